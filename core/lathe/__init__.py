"""The user's lathe: its dials and other parts, its lathe file, and the keys that a lathe file may contain."""
