"""The registry of all kinds of operation, what a kind declares, and the code of those kinds that have no package of
their own.
"""
