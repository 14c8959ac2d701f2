"""Grinding a small cutter for patterns: its cutting face, both flanks and its tip."""
