"""Sets machine parts square and parallel: read along a length, see the error, and move the part.

Signs: a reading is above 0 if the surface is nearer. A move is above 0 if it goes away from the indicator or the tool.
"""
