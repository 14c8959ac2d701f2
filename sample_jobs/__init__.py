"""Jobs and lathes that run as they are: a small bronze sundial and the fixture to engrave it."""
