"""A run: its events, its state, and what the counter shows of it."""
