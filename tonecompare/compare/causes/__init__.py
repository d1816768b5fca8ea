"""What other than the work could explain a difference?

What other rooms use
--------------------
``cause_findings``: Adjustment, ConfoundFindings
``find_causes``: apply_confounds, find_confounds, without_drift
``gain``: a room of its own: a turned gain knob
``repeat_drift``: by_stage, DRIFT, Drift, drift_table, find_drifts, first_recordings, HELD
``rows_to_explain``: CLAIMS, FOUND_P, VoiceRows, voices_of
``taken_out``: with_taken_out
``stage_drift``: find_drift, weakened
"""
