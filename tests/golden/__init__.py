"""Golden cards: the figures and steps of many jobs as the program last gave them, one line each.

Golden cards guard against accidents only. They say that a number has changed, never that it is right: the published
values in tests/published, and the checks that name their source, are the proof. `python -m tests.golden` writes them
again; look at each changed line in the diff before you commit it.

`jobs/` holds jobs and lathes that cover what sample_jobs/ does not; `cards/` holds one file for each job of both.
"""
