"""Events of a run and the state they lead to: what a run is, before anything is shown of it."""
