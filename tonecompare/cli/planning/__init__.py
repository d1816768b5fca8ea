"""What does somebody plan? Questions, each answer checked when it is given and kept at once.

``questions``     what is asked, in order, and what each answer may be
``kept_answers``  the file that holds the answers so far
``interview``     asking: from the kept answers on, until all are there
"""
