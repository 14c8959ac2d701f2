"""Where a thread lies along the axis: one face is zero, all else is counted from it towards the chuck.

A turner sets the carriage dial to 0 with the tip level with that face; thread,
relief (undercut) and shoulder are then readings of that dial.
"""

from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.values.fields import Table

END_FACE, MOUTH, RELIEF_EDGE = "the end face", "the mouth of the bore", "the edge of the relief"
"""The faces that are zero where the user names none."""


class AxialPlace(NamedTuple):
    """Places along the axis [mm], counted from the zero face towards the chuck; None where not known."""

    zero_face: str = END_FACE
    thread_at_mm: float = 0.0
    """Where the thread starts."""
    length_mm: float | None = None
    """Length of the thread."""
    relief_mm: float | None = None
    """Width of the relief."""
    relief_at_mm: float | None = None
    """Where the relief starts; without one, where the thread ends."""
    shoulder_at_mm: float | None = None
    """Where the shoulder is, or the bottom of a blind bore."""


def read_axial_place(table: Table, lathe: Lathe, *, internal: bool) -> AxialPlace:
    """Read `zero_face`, `thread_at`, `length`, `relief`, `relief_at` and `shoulder_at`.

    Each follows from the others as far as it can: the relief starts where the thread
    ends, the shoulder is its far wall. Places that contradict each other become problems.
    """
    face = table.text("zero_face", longest=40)
    start = table.length("thread_at", least=0) or 0.0
    length, relief = table.length("length", above=0), table.length("relief", above=0)
    relief_at, shoulder_at = table.length("relief_at", above=0), table.length("shoulder_at", above=0)
    if relief_at is None and length is not None:
        relief_at = start + length
    elif relief_at is None and shoulder_at is not None and relief is not None:
        relief_at = shoulder_at - relief
    if length is None and relief_at is None and relief is not None and face is None and not start:
        # Nothing is known but the relief itself: its near edge is as good a zero as any.
        return AxialPlace(zero_face=RELIEF_EDGE, relief_mm=relief, relief_at_mm=0.0, shoulder_at_mm=relief)
    if relief_at is not None and not _in_order(
        table, lathe, "relief_at" if table.has("relief_at") else "shoulder_at", start, relief_at, length
    ):
        return AxialPlace()
    if relief_at is not None and length is None:
        length = relief_at - start
    if shoulder_at is not None:
        end = (relief_at if relief_at is not None else start) + (relief or 0.0)
        if shoulder_at < end - 1e-9:
            found = f"found {lathe.length_text(shoulder_at)}, nearer than the end of the thread and its relief"
            table.problem("shoulder_at", f"{found}; enter {lathe.length_text(end)} or more")
    elif relief_at is not None and relief is not None:
        shoulder_at = relief_at + relief
    return AxialPlace(
        zero_face=face or (MOUTH if internal else END_FACE),
        thread_at_mm=start,
        length_mm=length,
        relief_mm=relief,
        relief_at_mm=relief_at,
        shoulder_at_mm=shoulder_at,
    )


def _in_order(table: Table, lathe: Lathe, key: str, start: float, relief_at: float, length: float | None) -> bool:
    """Note a relief that starts before the thread has ended."""
    end = start + (length or 0.0)
    if relief_at <= start or relief_at < end - 1e-9:
        table.problem(
            key,
            f"the relief would start at {lathe.length_text(relief_at)}, before the thread ends at "
            f"{lathe.length_text(end)}; "
            "enter places counted from the zero face towards the chuck",
        )
        return False
    return True
