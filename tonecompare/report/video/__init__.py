"""How does one statement fill a screen? Charts for videos and print, and the film."""
