"""What does one page say to somebody who has a minute?

What other rooms use
--------------------
``sheet_view``: SheetView, sheet_view
"""
