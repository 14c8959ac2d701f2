"""The sentences of core/, each saved once: `python -m tests.core.wording` writes them again.

A page is a text file beside the module that makes it: each situation on one line, and below it, indented, what the
program says there. Every other test checks numbers, settings, states and keys, so a better wording changes a page
and no test. Read the diff as a turner would: it shows old words and new ones, line by line. A page proves nothing:
what a sentence claims is checked by the test of its figure.
"""
