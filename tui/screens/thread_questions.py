"""What the counter asks about a thread: sizes measured, gauges tried, what was moved; see counter_questions."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from core.errors import QuantityError
from core.threads.picking_up import MOVED
from core.threads.readings import Reading, limits_words, read_measured
from tui.screens.ask import OneOf, Question, Typed, YesNo

if TYPE_CHECKING:
    from tui.screens.counter import CounterScreen

Answer = TypeVar("Answer")
Ask = Callable[["CounterScreen"], Any]

FITS = (
    ("It fits: this is the size", "fits"),
    ("It won't start", "won't start"),
    ("It starts, but is tight", "tight"),
    ("It is loose", "loose"),
)
_MOVED_WORDS = (
    "The tool: re-ground, changed or moved",
    "The work: taken out and put back",
    "The half nuts: opened, or gears changed",
    "A slide or a dial, or nobody is sure",
)
_HOW_SURE = {
    "mm": "It counts as sure to its last place, 29.85 to 0.01; or type how sure it is behind it: 29.85 +-0.005.",
    "in": "It counts as sure to its last place, 0.871 to 0.001; or type how sure it is behind it: 0.871 +-0.0005.",
}


def thread_asks(counter: "CounterScreen") -> Mapping[str, Ask]:
    """Return what can be measured or tried, by the words of its answer."""
    asks: dict[str, Ask] = {"Pitch diameter": _pitch_diameter}
    wire_mm = counter.state.plan.figures.get("wire_mm")
    if wire_mm:
        asks[f"Size over three wires of {counter.basis.lathe.say(wire_mm)} (or two, square faces)"] = _over_wires
    asks["Gauge or mating part tried"] = _tried
    asks["Depth of the groove below the crest"] = _crest
    if wire_mm:
        asks["Size over three wires of another diameter"] = _over_other_wires
        asks["Size over one wire and the crest opposite"] = _over_one_wire
    return asks


async def ask_what_was_moved(counter: "CounterScreen") -> None:
    """Ask what was moved, and plan finding the place again."""
    chosen = await _ask(counter, OneOf("What was moved?", _MOVED_WORDS, default=len(_MOVED_WORDS) - 1))
    if chosen is not None:
        counter.revise("picked up", {"moved": MOVED[chosen]}, "to be picked up")


async def _pitch_diameter(counter: "CounterScreen") -> None:
    await _two_ends(counter, "pitch diameter", "pitch_diameter_mm", {})


async def _over_wires(counter: "CounterScreen") -> None:
    await _two_ends(counter, "size over the wires", "over_wires_mm", {})


async def _over_other_wires(counter: "CounterScreen") -> None:
    wire = await _reading(counter, "How thick are the wires?", [])
    if wire is not None and not await _two_ends(
        counter, "size over the wires", "over_wires_mm", {"wire_mm": wire.size_mm}
    ):
        _say_dropped(counter, "wires", wire)


async def _over_one_wire(counter: "CounterScreen") -> None:
    lathe, wire_mm = counter.basis.lathe, counter.state.plan.figures["wire_mm"]
    detail = [f"The wire is the planned one, {lathe.say(wire_mm)}."]
    crest = await _reading(counter, "Which diameter over the crests, without a wire?", detail)
    if crest is not None and not await _two_ends(
        counter, "size over one wire and the crest", "over_one_wire_mm", {"major_mm": crest.size_mm}
    ):
        _say_dropped(counter, "diameter over the crests", crest)


def _say_dropped(counter: "CounterScreen", what: str, entered: Reading) -> None:
    """Say that an answer goes with the question after it, which was cancelled: alone it tells nothing."""
    counter.say(f"Nothing is logged. The {what}, {counter.basis.lathe.say(entered.size_mm)}, must be entered again.")


async def _two_ends(counter: "CounterScreen", what: str, key: str, more: Mapping[str, float]) -> bool:
    """Ask for a size at the shoulder and at the free end; one end alone will do. False where it was cancelled."""
    wanted = limits_words(counter.basis.lathe, counter.state.plan.figures, key, more)
    detail = [*([wanted] if wanted else []), _HOW_SURE.get(counter.basis.lathe.unit, _HOW_SURE["mm"])]
    shoulder = await _reading(counter, f"Which {what} at the shoulder end?", detail)
    if shoulder is None:
        return False
    ends, error_mm = {"shoulder": shoulder.size_mm}, shoulder.error_mm
    words = counter.basis.lathe.say(shoulder.size_mm)
    free = await _free_end(counter, what, detail, words)
    if free is not None:
        ends["free"], error_mm = free.size_mm, max(error_mm, free.error_mm)
        words += f" at the shoulder, {counter.basis.lathe.say(free.size_mm)} at the free end"
    counter.revise("measured", {key: ends, **more, "reading_error_mm": error_mm}, f"{what} {words}")
    return True


async def _free_end(counter: "CounterScreen", what: str, detail: list[str], shoulder: str) -> Reading | None:
    """Ask for the size at the free end too; None where it was not measured, and then the shoulder alone counts.

    What was entered for the `shoulder` is not lost by Esc: that cancels only this question.
    """
    keeps = f"Esc continues with the shoulder end alone, {shoulder}."
    told = ["Two ends tell taper and spring from size.", keeps]
    if not await _ask(counter, YesNo("Is the free end measured too?", default=True, detail=told)):
        return None
    return await _reading(counter, f"Which {what} at the free end?", [*detail, keeps])


async def _tried(counter: "CounterScreen") -> None:
    chosen = await _ask(counter, OneOf("How does it fit?", [words for words, _ in FITS], default=2))
    if chosen is not None:
        words, fit = FITS[chosen]
        counter.revise("fit", {"fit": fit}, f"tried: {words.lower()}")


async def _crest(counter: "CounterScreen") -> None:
    detail = ["On the radius: from the tool touching the crest to the tool on the ground of the groove."]
    depth = await _reading(counter, "How deep is the groove below the crest?", detail)
    if depth is not None:
        words = f"groove {counter.basis.lathe.say(depth.size_mm)} deep"
        counter.revise("measured", {"crest_mm": depth.size_mm}, words)


async def _reading(counter: "CounterScreen", question: str, detail: list[str]) -> Reading | None:
    unit = counter.basis.lathe.unit

    def read(text: str) -> Reading:
        if not text.strip():
            raise QuantityError("a size above 0 is wanted")
        return read_measured(text, unit)

    return await _ask(counter, Typed(question, read, label="Size", unit=unit, detail=detail))


async def _ask(counter: "CounterScreen", question: Question[Answer]) -> Answer | None:
    return await counter.app.push_screen_wait(question)
