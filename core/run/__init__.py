"""What counter, board and history show of a run, prepared as words and numbers."""
