"""How is it told to a customer? Plain words only: no interval, no count of plucks, no verdict.

What other rooms use
--------------------
``sheet_text``: SheetText, sheet_text
``plain_changes``: IDEAS, Idea, plain_row
"""
