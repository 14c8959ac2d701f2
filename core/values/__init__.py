"""Reads values that come from outside the program: text, quantities, fields and files.

Also the dials that show them.
"""
