"""Small drawings for the questions about the lathe, each at most 38 columns wide and 8 rows high.

All their characters exist in the fonts of the bare Linux console. "{0.5|20}" becomes 0.5 for a dial in millimetres, and
20 for a dial in thou (see core.lathe.set_up.answers.in_unit).
"""

from collections.abc import Callable, Sequence

from core.lathe.dial_face import DialMark

PICTURES: dict[str, tuple[str, ...]] = {
    "dial": (
        "          ▼  zero line",
        " ┌┼┬┬┬┬┼┬┬┬┬┼┬┬┬┬┼┬┐",
        " │3    2    1    0 │  dial",
        " └─────┬─────┬─────┘",
        "       └──┬──┘",
        "        handle",
    ),
    "turn": (
        "   ▼                ▼",
        " ┬┬┼┬┬┬┬┼┬┬      ┬┬┼┬┬┬┬┼┬┬",
        "   0    3          0    3",
        "   └─ once round ──┘",
        " 0, 1, 2, 3 and 0 again: 4 in a turn",
    ),
    "marks": (
        "          ▼",
        " ┼┬┬┬┬┼┬┬┬┬┼┬┬┬┬┼",
        " 3    2    1    0",
        "           └┘",
        "           one mark: how much is it?",
    ),
    "sense": (
        " before ┌──────────┐",
        "        │    d1    │  in by {0.5|20}",
        " after  ├──────────┤",
        "        │    d2    │",
        "        └──────────┘",
        " d1 - d2 = {1.0|40}: travel",
        " d1 - d2 = {0.5|20}: diameter",
    ),
    "slide_sense": (
        "   in by {0.5|20} on the dial",
        "   ┌─────┐",
        "   │slide├→  ├───◀ indicator",
        " ──┴─────┴───────",
        " it shows {0.5|20}:  travel",
        " it shows {0.25|10}: diameter",
    ),
    "circles": (
        "    ┌─────────┐",
        "    │ ┌─────┐ │  d2, after {0.5|20}",
        "    │ │ d1  │ │  on the dial",
        "    │ └─────┘ │",
        "    └─────────┘",
        " d2 - d1 = {1.0|40}: travel",
        " d2 - d1 = {0.5|20}: diameter",
    ),
    "one_turn": (
        "   ┌─────┐   1 turn   ┌─────┐",
        "   │slide│───────────→│slide│",
        " ──┴─────┴────────────┴─────┴──",
        "   ├──────────────────┤",
        "    how far in one turn?",
    ),
    "handle": (
        "   ┌──→──┐",
        "   ↑  •  ↓   clockwise, as you see",
        "   └──←──┘   the handle",
    ),
    "rising": (
        " going in:",
        "   0 → 1 → 2 → 3    they rise",
        "   0 → 9 → 8 → 7    they fall",
    ),
    "collar": (
        "           ▼",
        "  ┌────┬┬┬┼┬┬┬┬┐",
        "  │    │  0    │ ← slips, or is fixed?",
        "  └────┴───────┘",
        "  handle   dial",
    ),
    "backlash": (
        "  ────── A ─→│       coming inwards",
        "             │←─ B ─ coming back",
        "   the indicator shows 0 both times:",
        "   A to B is the backlash",
    ),
    "head": (
        "      ┌───────┐",
        "   ───┤ head  │  turns in the spindle",
        "      └──┬────┘",
        "         └▼ tool",
    ),
    "square": (
        " ┌─────┐              seen from above",
        " │chuck├───────┐",
        " │     │ work  │",
        " │     ├───────┘",
        " └─────┘   ▲",
        "          ┌┴┐  slide square",
        "          └┬┘  to the axis",
        "           • handle          you ▲",
    ),
    "along": (
        " ┌─────┐              seen from above",
        " │chuck├───────┐",
        " │     │ work  │",
        " │     ├───────┘",
        " └─────┘",
        "            ◀─┤slide├──• handle",
        "            along the axis",
        "                             you ▲",
    ),
    "protractor": (
        "      ▼",
        " ┬┬┬┬┼┬┬┬┬┼┬┬┬┬┼┬┬┬┬┼  base of the",
        "     0   10   20   30  compound",
        " how much is a mark? where is the end?",
    ),
    "centre_height": (
        "      •──── spindle axis",
        "      ↑",
        "      │  how high?",
        "      ↓",
        " ═════════════ bed",
    ),
    "leadscrew": (
        " ──/──/──/──/──/──/──/──/──/──/──",
        "            │  │",
        "            └──┘ one pitch: how far?",
    ),
    "thread_dial": (
        "      ┌─────┐",
        "      │ 1 2 │  dial with lines",
        "      │ 4 3 │",
        "      └──┬──┘",
        "       (wheel)  how many teeth?",
        " ──/──/──/──/──/── leadscrew",
    ),
    "gears": (
        "  (spindle)",
        "     │",
        "  (driver)──(idler)──(driven)",
        "                        │",
        "                   (leadscrew)",
    ),
    "gearbox": (
        " ┌───────────────────┐",
        " │ A1  0.5   A2  1.0 │ plate on the",
        " │ B1  1.5   B2  2.0 │ headstock",
        " └───────────────────┘",
    ),
    "speeds": (
        " steps:         without steps:",
        "  ■ ■ ■ ■ ■       slow ──•──── fast",
        " 70 115 190",
    ),
    "shoulder": (
        " ┌──────┐",
        " │      ├──────────────┐",
        " │chuck │    ←── tool  │",
        " │      ├──────────────┘",
        " └──────┘ stop before the shoulder",
    ),
    "nose": (
        "  screwed      flange       cams",
        "   ├//┤         ├│┤         ├o┤",
    ),
    "table": (
        "      ┌───────────┐",
        "      │   table   │",
        "      │     •     │",
        "      └─────┬─────┘",
        "            └──•  handle",
        "       72 turns: once round",
    ),
    "from_spindle": (
        "        up      seen from the spindle",
        "     ┌───────┐",
        " far │   ┼   │ near: you stand here",
        "     └───────┘",
        "  ═══════════════ bed",
    ),
    "table_clockwise": (
        "        up      seen from the spindle",
        "     ┌───→───┐",
        " far ↑   ┼   ↓ near: you stand here",
        "     └───←───┘",
        "  ═══════════════ bed",
    ),
    "table_anticlockwise": (
        "        up      seen from the spindle",
        "     ┌───←───┐",
        " far ↓   ┼   ↑ near: you stand here",
        "     └───→───┘",
        "  ═══════════════ bed",
    ),
    "travel": (
        "   ├────── how far? ──────┤",
        "   ┌─────┐          ┌─────┐",
        "   │slide│─────────→│slide│",
        " ──┴─────┴──────────┴─────┴──",
        "  one end           other end",
    ),
    "point": (
        "  sharp      flat       round",
        "  \\    /    \\     /    \\     /",
        "   \\  /      \\   /      \\   /",
        "    \\/        \\_/        (_)",
        "  the angle: from flank to flank",
    ),
    "bars": (
        "  ───────────────",
        "      {16|0.5}",
        "  ───────────────  how high together?",
        "      {6|0.25}",
        "  ───────────────",
    ),
    "vernier": (
        "  0    10   20    vernier",
        "  ┴┴┴┴┴┼┴┴┴┴┼",
        " ┬┬┬┬┬┬┼┬┬┬┬┬┬┬   dial",
        "   0'       10'",
    ),
    "plates": (
        "    •  •  •",
        "  •  • • •  •    circles of holes,",
        "  • •     • •    plate by plate",
        "  •  • • •  •",
        "    •  •  •",
    ),
    "indicator": (
        "   plunger        lever",
        "  ┌─────┐        ┌─────┐",
        "  │ \\ 0 │        │ \\ 0 │",
        "  └──┬──┘        └──┬──┘",
        "     │               \\",
        "  ───┴───        ─────•──",
    ),
    "jaws": (
        "   narrow tip      wide face",
        "      │ │           ┌─────┐",
        "      \\ /           │     │",
        "  ─────v─────     ──┴─────┴──",
        "     work            work",
    ),
    "wires": (
        "      •   •      two wires above,",
        "  ──\\/──\\/──\\/── one below: the size",
        "  ──/\\──/\\──/\\── over all three",
        "        •",
    ),
    "shims": (
        "  ═══════ {0.5|0.010}",
        "  ─────── {0.1|0.005}",
        "  ─────── {0.05|0.002}",
    ),
}


_COLUMNS_A_MARK = 3
_MOST_EACH_SIDE = 12


def collar_lines(marks: Callable[[int], Sequence[DialMark]], columns: int) -> list[str]:
    """Return a drawing of a dial's marks around its zero line, in rows of at most `columns` characters.

    `marks`: a function that returns the dial's marks, given how many to show on each side of the zero line.

    >>> from fractions import Fraction
    >>> from core.values.dials import Dial
    >>> from core.lathe.dial_face import marks_around
    >>> dial = Dial(name="compound", unit="mm", graduation=Fraction(1, 10), per_turn=Fraction(2))
    >>> print("\\n".join(collar_lines(lambda each_side: marks_around(dial, 4, each_side), 30)))
                 ▼
     ┬──┬──┬──┼──┬──┬──┬──┬──┼
             0.5            0.0
    """
    each_side = min(max((columns // _COLUMNS_A_MARK - 2) // 2, 1), _MOST_EACH_SIDE)
    shown = marks(each_side)
    middle = _COLUMNS_A_MARK * each_side + 1
    numbers = [" "] * (2 * middle + 2 * _COLUMNS_A_MARK)
    for mark in shown:
        start = middle + _COLUMNS_A_MARK * mark.offset - (len(mark.number) - 1) // 2
        if mark.number and start >= 0:
            numbers[start : start + len(mark.number)] = mark.number
    ticks = "──".join("┼" if mark.long else "┬" for mark in shown)
    return [" " * middle + "▼", f" {ticks}", "".join(numbers).rstrip()]
