"""The record of a lathe: how its dials compare with measurements over all runs, and the user's notes."""
