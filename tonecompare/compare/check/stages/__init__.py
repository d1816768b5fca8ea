"""Do the files of a stage fit each other?"""
