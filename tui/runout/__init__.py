"""The runout check: its form, and the counter that asks for the readings."""
