"""The usual cautions, in one place, for the start of a run and the step concerned.

Common practice, no source. The program advises and controls nothing; the
machine's manual, local rules and, where they apply, licensed trades come first.
"""

ADVICE = "This is advice only: the machine's manual and local rules come first."

AT_THE_MACHINE = (
    "Eye protection on; no gloves, loose sleeves or loose hair; chuck key out before power.",
    "Keyboard and any foot switch where no arm reaches across the work, clear of the lathe's own pedal.",
)
MEASURE_STOPPED = "Spindle stopped and its drive isolated while you measure, file or clear swarf."
BY_HAND_FIRST = "Turn the work over by hand once before power; lock the slides that do not move."
TOOL_OUT_FIRST = "Tool out before you reverse; a screwed-on chuck can unscrew in reverse or on a brake."
NO_RAG = "Never feel a thread, nor hold rag, brush or emery to it, with the spindle turning."
DUST = "Dust of wood, bronze and iron: wear a mask."
LEAD = "Leaded stock: wash your hands before you eat."
ZINC = "Zinc-coated stock gives off fumes when it is ground or welded."


def for_material(material: str | None) -> tuple[str, ...]:
    """Return what a material adds to the usual cautions.

    >>> for_material("cast bronze")
    ('Dust of wood, bronze and iron: wear a mask.',)
    """
    words = (material or "").casefold()
    found = []
    if any(name in words for name in ("wood", "bronze", "cast iron", "iron", "beryll")):
        found.append(DUST)
    if any(name in words for name in ("lead", "free-cutting", "free cutting")):
        found.append(LEAD)
    if any(name in words for name in ("zinc", "galvan")):
        found.append(ZINC)
    return tuple(found)
