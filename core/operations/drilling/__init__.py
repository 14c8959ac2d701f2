"""Holes on the spindle's axis: drilled by the dial of the tailstock or of a quill, in pecks, then reamed or tapped."""
