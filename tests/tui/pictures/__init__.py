"""Pictures: every main screen in its main states as plain text, the one place where its wording is held.

`walks` says which keys lead to them; `python -m tests.tui.pictures` makes them again. Read the diff as a turner
would who sees the screen for the first time, then commit it with what changed it. What a screen does is asserted
elsewhere, as facts: a picture only shows that its words, and their places on the screen, have not changed by accident.
"""
