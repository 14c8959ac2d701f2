"""Pictures: every main screen in its main states as plain text, the one place where its wording is held.

`walks` says which keys lead to them; `python -m tests.tui.pictures` makes them again. Read the diff as a turner
would who sees the screen for the first time. Then commit it with the change that caused it. What a screen does is
tested elsewhere: a picture only shows that its words, and their places on the screen, have not changed by accident.
"""
