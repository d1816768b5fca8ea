"""What differs, by how much, how sure, and what may be said of it?

What other rooms use
--------------------
``difference_rows``: ALL_NOTES, DifferenceRows
``difference_table``: thresholds_table, to_frame
``quiet_differences``: between_recordings_db, of_recordings, pooled_variance, quiet_difference
``session_differences``: judge_session
``stage_differences``: stage_block
``stage_pairs``: scale_matrix
``statistics``: ALPHA, combine, Estimate, holm, over_notes, t_quantile
"""
