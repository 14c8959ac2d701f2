"""Reports on screen: the closing summary of a run, and what a lathe does over all runs."""
