"""Pages to print or export: the card of a job, figures in words, the log as text, CSV and JSON."""
