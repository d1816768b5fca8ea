"""What differs, by how much, how sure, and what may be said of it?

What other rooms use
--------------------
``difference_rows``: ALL_NOTES, DifferenceRows
``difference_table``: thresholds_table, to_frame
``guitar_spread``: FEWEST_GUITARS, guitars_table, repeat_pairs, sessions_table, stock_stages
``quiet_differences``: HISS_WANDER_DB, WANDER_DB
``session_differences``: judge_session
``stage_differences``: stage_block
``stage_pairs``: scale_matrix
``statistics``: ALPHA, combine, Estimate, holm, over_notes, t_quantile
"""
