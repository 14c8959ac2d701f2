"""Measures speed as ratios to a floor in the same run: `python -m tests.bench [--json]`.

A floor is the shortest time, or the smallest size, that can be expected. Program and floor are measured in turn, so
that other work of the computer slows both equally. Figures are medians unless the text says otherwise. Programs run
with compiled modules, as after an installation.
"""
