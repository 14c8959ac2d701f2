"""The parts of screens; none of them knows a lathe's arithmetic."""
