"""Pages for printing and files: cards of jobs, reports, drawings, and the log as text, CSV and JSON."""
