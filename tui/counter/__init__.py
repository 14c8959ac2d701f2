"""A run, one key for each pass."""
