"""Golden cards: figures and steps of many jobs, as the program gave them when they were last saved.

Golden cards guard only against accidents. They show that a number has changed, never that it is right. Tests in
tests/published and checks that name their source show that. `python -m tests.golden` saves the cards again. Look at
each changed row of the diff before you commit it.

`jobs/` contains jobs and lathes for everything that sample_jobs/ does not cover. `cards/` contains one file for each
job.
"""
