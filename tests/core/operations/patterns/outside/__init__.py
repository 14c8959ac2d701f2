"""Checks of patterns from outside: a lathe and a rotary table simulated in numpy, fed with the steps of the card alone.

Nothing here uses the program's own geometry. A job and a lathe are written as files, the card is made from them, and
everything on it is worked out again: where the tool was at each cut, how deep, what was changed in between, what is
left of the face. The formulas are derived here; what comes from the trade is marked so.
"""
