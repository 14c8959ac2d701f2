"""Printed and exported pages: the card of a job, reports, drawings, and the log as text, CSV and JSON."""
