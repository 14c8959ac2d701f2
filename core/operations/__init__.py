"""The operations: what each declares, the list of all of them, and the small operations themselves."""
