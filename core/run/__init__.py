"""Turns the state of a run into the words and numbers that the counter, the board and the history screens show."""
