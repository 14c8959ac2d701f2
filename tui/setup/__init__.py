"""Set-up of the lathe, in plain questions."""
