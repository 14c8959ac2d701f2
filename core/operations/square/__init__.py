"""Square and parallel: an indicator or a caliper along a length, what is off, and what to move.

Signs: a reading is + where the surface is nearer; a move is + away from the indicator, or from the tool.
"""
