"""Layer patterns: circles cut by a cutter turning in the spindle, the work offset on a rotary table and divided."""

HEAD = "boring_head"
"""The name of the dial that sets the circle radius."""
