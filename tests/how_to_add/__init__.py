"""Adds an operation, a unit, a caution and a thread form by the steps that DEVELOPERS.md describes."""
