"""What other than the work could explain a difference?"""
