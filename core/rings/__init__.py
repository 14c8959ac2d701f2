"""Ring patterns: circles cut by a cutter turning in the spindle, the work offset on a rotary table and divided."""
