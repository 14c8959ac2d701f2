"""The counter: the screen at which the user works through a run and presses one key for each pass."""
