"""Every kind of operation: its declaration, the registry of all kinds, and the code of the small kinds."""
