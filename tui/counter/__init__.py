"""The counter: a run on the screen, and one key for each pass."""
