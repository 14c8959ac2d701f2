"""Set-up of the lathe by questions in plain words."""
