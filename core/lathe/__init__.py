"""The lathe: its dials and parts, its file, and the table of keys that describes both."""
