"""The board: the first screen, with the operations of the open job, or with what the user can open or start."""
