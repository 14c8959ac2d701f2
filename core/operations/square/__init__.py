"""Sets things square and parallel: read along a length, see what is off and what to move.

Signs: a reading is above 0 if the surface is nearer; a move is above 0 if it goes away from the indicator or the tool.
"""
