"""Checking the runout: its form, and the counter that takes readings."""
