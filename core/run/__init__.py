"""What counter, board and history show of a run."""
