"""The board: the first screen, with the operations of the open job or a list of what to open and start."""
