"""Sentences broken into lines, and lines cut short."""

from core.values.plain_text import wrapped

__all__ = ["cut", "wrapped"]


def cut(text: str, columns: int, ellipsis: str = "...") -> str:
    """Return `text` in at most `columns` characters, its end replaced by the ellipsis where it is too long."""
    if len(text) <= columns:
        return text
    if columns <= len(ellipsis):
        return text[: max(columns, 0)]
    return text[: columns - len(ellipsis)].rstrip() + ellipsis
