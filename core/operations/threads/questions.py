"""The entries that the user can make during a thread: measured sizes, gauge checks, and moved parts of the set-up."""

from collections.abc import Callable
from functools import partial

from core.events.state import State
from core.inputs import GaugeTried, PickedUp
from core.lathe.lathe import Lathe
from core.operations.threads.job import ThreadJob
from core.operations.threads.measuring import limits_words, read_size
from core.questions import Asked, AskedFirst, ChoiceAsked, EndsAsked, EnteredSize, SizeAsked

_HOW_SURE = {
    "mm": "The last decimal place is taken as the uncertainty: 29.85 means ± 0.01. "
    "You can also enter the uncertainty: 29.85 +-0.005.",
    "in": "The last decimal place is taken as the uncertainty: 0.871 means ± 0.001. "
    "You can also enter the uncertainty: 0.871 +-0.0005.",
}
_TRIED = ChoiceAsked(
    "Gauge or mating part tried",
    "How does it fit?",
    (
        ("It fits: the size is right", GaugeTried(fit="fits")),
        ("It won't start", GaugeTried(fit="won't start")),
        ("It starts, but is tight", GaugeTried(fit="tight")),
        ("It is loose", GaugeTried(fit="loose")),
    ),
    default=2,
    words="tried: ",
)
MOVED = ChoiceAsked(
    "",
    "What was moved?",
    (
        ("The tool: reground, changed or moved", PickedUp(moved="tool")),
        ("The work: taken out and put back", PickedUp(moved="work")),
        ("The half nuts: opened, or gears changed", PickedUp(moved="half nuts")),
        ("A slide or a dial, or you are not sure", PickedUp(moved="other")),
    ),
    default=3,
    words="",
)


def thread_questions(job: ThreadJob, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return the measurements and gauge checks that the user can enter now.

    Sizes over wires are included if the plan names a measuring wire.
    """
    figures = state.plan.figures
    read = partial(read_size, unit=lathe.unit)
    crest = _crest_asked(lathe, read)
    sure = _HOW_SURE[lathe.unit]

    def at_ends(
        what: str, choice: str, name: str, before: AskedFirst | None = None, *, wanted: bool = True
    ) -> EndsAsked:
        def detail(before_mm: float | None) -> tuple[str, ...]:
            limits = limits_words(lathe, figures, what, before_mm) if wanted else ""
            return (limits, sure) if limits else (sure,)

        return EndsAsked(what, choice, name, read, detail, before)

    pitch_diameter = at_ends("pitch diameter", "Pitch diameter", "pitch diameter")
    wire_mm = figures.get("wire_mm")
    if not wire_mm:
        return pitch_diameter, _TRIED, crest
    wire = lathe.length_text(wire_mm)
    over = f"Size over three wires of {wire} (or two between square faces)"
    wires = AskedFirst("wires", "wire_mm", "What is the diameter of the wires?")
    crests = AskedFirst(
        "diameter over the crests",
        "major_mm",
        "What is the diameter over the crests, without a wire?",
        (f"Use the planned wire of {wire}.",),
    )
    name = "size over the wires"
    return (
        pitch_diameter,
        at_ends("over wires", over, name),
        _TRIED,
        crest,
        at_ends("over wires", "Size over three wires of another diameter", name, wires, wanted=False),
        at_ends(
            "over one wire", "Size over one wire and the opposite crest", "size over one wire and the crest", crests
        ),
    )


def _crest_asked(lathe: Lathe, read: Callable[[str], EnteredSize]) -> SizeAsked:
    return SizeAsked(
        "crest",
        "Depth of the groove below the crest",
        "How deep is the groove below the crest?",
        read,
        lambda depth_mm: f"groove {lathe.length_text(depth_mm)} deep",
        ("Enter the depth on the radius: the travel from touching the crest to touching the bottom of the groove.",),
    )
