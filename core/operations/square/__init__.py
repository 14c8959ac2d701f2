"""Sets machine parts square or parallel: read along a length, calculate the error, and move the part.

Signs: a reading is above 0 if the surface is nearer. A move is above 0 if the part moves away from the indicator or the
tool.
"""
