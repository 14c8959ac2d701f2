"""What a lathe does: dials compared with measurements over all runs, and the notes of its user."""
