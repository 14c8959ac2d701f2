"""The keys of a lathe file: how each is read, written and explained, and which question set-up asks for it."""
