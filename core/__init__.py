"""The lathe, its dials, threads, plans and logbook. Nothing in core depends on a screen."""
