"""Widgets, the parts of screens. None of them calculates anything about a lathe."""
