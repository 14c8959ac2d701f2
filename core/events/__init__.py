"""The events of a run, and the state of the run that follows from its events."""
