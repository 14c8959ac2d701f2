"""Holes on the spindle's axis. The dial of the tailstock or quill measures the pecks; a reamer or tap may follow."""
