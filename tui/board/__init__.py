"""The board: the screen with the operations of the open job, or with a list of what to open or start."""
