"""The lathe, asked in plain questions."""
