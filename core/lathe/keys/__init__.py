"""The keys of a lathe file: how each is read, written, explained and asked for."""
