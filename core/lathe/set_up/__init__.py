"""Set-up of the lathe: its questions, answers computed from measurements, drafts, and saving to the file."""
