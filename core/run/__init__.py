"""Prepares what counter, board and history show of a run."""
