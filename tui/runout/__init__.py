"""The runout check: its form, and the counter that takes readings."""
