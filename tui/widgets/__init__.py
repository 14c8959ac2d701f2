"""Widgets, the parts of screens. No widget calculates anything about a lathe."""
