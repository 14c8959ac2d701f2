"""Past runs, and writing them to a file."""
