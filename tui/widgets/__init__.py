"""What the screens are put together from; none of it knows a lathe's arithmetic."""
