"""What DEVELOPERS.md says of adding things, done: an operation, a unit, a caution, a thread form."""
