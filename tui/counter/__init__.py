"""The counter: the screen on which the user works through a run, one key for each pass."""
