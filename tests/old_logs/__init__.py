"""Runs recorded by earlier versions of the program, and what the newest one must make of them."""
