"""The kinds of operation: their declarations, the registry of all kinds, and the code of the small kinds."""
