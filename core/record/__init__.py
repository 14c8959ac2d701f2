"""The record of a lathe: dials compared with measurements over all runs, and the user's notes."""
