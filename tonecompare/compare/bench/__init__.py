"""What do the takes of one stage say at the bench?"""
