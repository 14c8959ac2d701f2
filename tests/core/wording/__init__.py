"""Sentences of core/, each kept once: `python -m tests.core.wording` writes them again.

A page is a text file beside the module that makes it: a situation in one line, below it, indented, what the program
says there. Every other test asserts numbers, settings, states and keys, so a sentence that is worded better changes a
page and no test. Read the diff as a turner would: it shows old words and new ones, one line each.

A page proves nothing: what a sentence claims is checked by the test of the figure that it names.
"""
