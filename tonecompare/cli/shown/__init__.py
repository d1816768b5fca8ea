"""How does it read on a terminal? Text without surprises, tables, progress, the next command.

``terminal``      what goes to stdout and stderr, at the width and in the letters there are
``table``         aligned text tables
``progress``      how far long work has come, on stderr
``next_command``  the command to type next
"""
