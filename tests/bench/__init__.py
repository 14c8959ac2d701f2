"""Measures speed as ratios to a floor of the same run: `python -m tests.bench [--json]`.

Program and floor take turns, so that other work of the machine slows both. Figures are medians unless something
else is said. Programs run with compiled modules, as they do once installed.
"""
