"""The board: the open job, or what can be opened and started."""
