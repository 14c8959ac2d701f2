"""Checks of patterns on a lathe and a rotary table simulated in numpy, which follow only the steps of the card.

The checks do not use the program's geometry. They write a job and a lathe as files, make the card, and calculate its
contents a second time: the tool's place and depth at each cut, the changes in between, and the land of the face. The
formulas are derived in these files. A comment names each fact that comes from the trade.
"""
