"""The lathe, its dials, threads, plans and logbook; knows nothing of any screen."""
