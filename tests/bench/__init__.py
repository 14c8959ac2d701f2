"""Speed as ratios to a floor measured in the same run: `python -m tests.bench [--json]`.

Program and floor take turns, so that whatever else the machine does falls on both; the
figures are medians unless something else is said. Programs run with compiled modules, as
they do once installed.
"""
