"""Adds an operation, a unit, a caution and a form of thread by the steps in DEVELOPERS.md."""
