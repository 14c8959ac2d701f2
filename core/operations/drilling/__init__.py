"""Holes on the spindle's axis, drilled in pecks by the dial of the tailstock or quill, then reamed or tapped."""
