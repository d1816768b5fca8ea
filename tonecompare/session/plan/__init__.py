"""What has to be recorded? The plan of a session, its ``session.toml`` and its take sheet.

What other rooms use
--------------------
``planned_session``: PlanOptions, write_plan
``repeats``: repeats_needed, smallest_change, AssumedSpread, TYPICAL_SPREADS
``selectors``: LAYOUTS, OUTPUT_CHOICES
"""
