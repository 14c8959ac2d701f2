"""A small picture of the rotary table as the spindle sees it: which side is near, which is far."""


def sides_picture(is_far: bool) -> list[str]:
    """Return the lines of the picture, with the spindle on the near or on the far side of the table's axis.

    Work coordinates: x to the right, towards the operator; y up.
    """
    face = " o +   " if is_far else "   + o "
    return [
        "        up      seen from the spindle",
        "     ┌───────┐",
        f" far │{face}│ near: you stand here, 0°",
        "     └───────┘",
        "  ═══════════════ bed",
        " + the table's axis, o the spindle",
    ]
