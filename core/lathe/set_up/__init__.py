"""Set-up of the lathe: its questions, measuring methods, drafts of answers, and saving to the lathe file."""
