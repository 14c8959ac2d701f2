"""Declares the keys of a lathe file: how each is read, written and explained, and which set-up question asks for it."""
