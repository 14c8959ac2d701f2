"""The screens of set-up, which describe the user's lathe by questions in plain words."""
