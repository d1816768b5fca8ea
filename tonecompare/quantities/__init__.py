"""What is each number called, what does it mean, and how is it compared?

``registry``  every measured column, an entry each; ``entry`` says what one holds
``quiet_and_voice_entries``  its part on quiet stretches and whole voices
``columns``   the columns of the tables and their order
``octave_bands``  the bands of IEC 61260-1 and their trade words
``compared``  how each compared quantity is compared: unit, analysis scale, family, threshold
``words``     names, and the words for a rise and a fall
``meanings``  what each column of each table means, for explain and the page's glossary
``moved_by``  which columns a cause other than the work can move
``digits``    how many decimals a number of each unit is shown with
``terms``     verdicts, causes other than the work, words of the trade
"""
