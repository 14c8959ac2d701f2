"""A run: its events, and the state that they lead to."""
