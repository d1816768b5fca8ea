"""What does the user want to hear or to show? Pictures, sounds, a film, a blind test."""
