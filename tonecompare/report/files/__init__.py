"""What is written? The report folder, its tables, clips and summary.

What other rooms use
--------------------
``clips``: Clips, ClipWriter
``csv_tables``: csv_text
``report_folder``: check_replaceable, MADE_BY_CHECK, whole_or_nothing
``summary``: left_out, versions
"""
