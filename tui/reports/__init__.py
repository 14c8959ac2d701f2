"""Reports on screen: the summary of a run, and the record of a lathe over all its runs."""
