"""Grinds the point of a small cutter for patterns: the cutting face, two flanks and the tip."""
