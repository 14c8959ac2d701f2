"""Set-up of the lathe: its questions, answers found by measuring, drafts of answers, and saving to the lathe file."""
