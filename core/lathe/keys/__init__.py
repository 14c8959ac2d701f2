"""The keys of a lathe file: how each is read, written and explained, and the question of set-up that asks for it."""
