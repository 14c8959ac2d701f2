"""The history: lists past runs, shows their events, and exports or merges logs."""
