"""The lathe: its dials and other parts, its file, and the table of keys that a lathe file may have."""
