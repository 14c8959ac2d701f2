"""The operations: what each declares, their registry, and the small ones."""
