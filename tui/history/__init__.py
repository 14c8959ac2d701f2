"""The history: past runs, and exporting them."""
