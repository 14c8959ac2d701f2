"""Golden cards: figures and steps of many jobs, as the program gave them when they were last saved.

Golden cards guard only against accidents. They show that a number has changed, never that the number is right. The
proof is in tests/published and in checks that name their source. `python -m tests.golden` saves the cards again. Look
at each changed line in the diff before you commit it.

`jobs/` has jobs and lathes for whatever sample_jobs/ does not cover. `cards/` has one file for each job.
"""
