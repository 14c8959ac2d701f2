"""The words and numbers that counter, board and history show of a run."""
