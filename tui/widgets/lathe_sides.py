"""A small picture that shows on which side of the rotary table's axis the spindle is."""


def sides_picture(is_far: bool) -> list[str]:
    """Return the rows of the picture, as seen from the spindle.

    The spindle is on the far side of the table's axis if `is_far`, otherwise on the near side, where the operator
    stands. Work coordinates have x to the right, towards the operator, and y upwards.
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
