"""What a round of readings tells, in figures and sentences, from the first moment at which it means something."""

from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.form import Figure
from core.operations.runout.advice import advice, worth_making
from core.operations.runout.analysis import FOR_OVAL, FOR_THREE_LOBES, Analysis, Lobes, analyse
from core.operations.runout.job import RunoutJob, angle_words, graduation_of
from core.operations.runout.moves import moves
from core.operations.runout.refits import REFITTED, refit_words
from core.operations.runout.remarks import aliases, is_seen, mistaken_words, questions, remarks
from core.operations.runout.sets_of_readings import Findings
from core.operations.runout.verdict import what_changed
from core.values.quantities import number_text

Say = Callable[[float], str]
Kind = Literal["verdict", "asked", "changed", "do", "known"]

PLANES = ("first plane", "second plane")


class Told(NamedTuple):
    """One sentence and what it is: how it stands, a question, what a move did, what to do, what is known of it."""

    kind: Kind
    words: str


def figure_words(analysis: Analysis, say: Say, *, whole: bool = True) -> list[Figure]:
    """Return the figures of one turn of readings, so far as they mean anything.

    whole: every mark was read [-]; before, form cannot be told from what is still to come.
    """
    face = analysis.surface == "face"
    # A face has no eccentricity: what comes once a turn is told from highest to lowest.
    share = 2 if face else 1
    off = f"{say(share * analysis.eccentricity_mm)} ± {say(share * 2 * analysis.error_mm)}"
    found = [
        Figure("TIR", say(analysis.tir_mm)),
        Figure("Once a turn" if face else "Eccentricity", off),
        Figure("High spot", _high_words(analysis)),
    ]
    if analysis.wobble_deg is not None:
        found.append(Figure("Wobble", f"{analysis.wobble_deg:.4f}°"))
    return found + _form_words(analysis, say) if whole else found


def _form_words(analysis: Analysis, say: Say) -> list[Figure]:
    """Return how oval, three-lobed and out of round the work is, so far as so many marks tell."""
    face, found = analysis.surface == "face", []
    for lobes, name in (
        (analysis.oval, "Twice a turn" if face else "Oval"),
        (analysis.three_lobes, "Three times a turn" if face else "Three-lobed"),
    ):
        if lobes is not None:
            found.append(_lobes_figure(name, lobes, say))
    form = analysis.out_of_roundness_mm
    if form is not None:
        few = len(analysis.readings_mm) < FOR_OVAL
        found.append(Figure("Out of flat" if face else "Out of round", say(form), "too few marks" if few else ""))
    return found


def _high_words(analysis: Analysis) -> str:
    within_deg = analysis.high_spot_within_deg
    if within_deg is None:
        return "none to be told"
    return f"{angle_words(analysis.high_spot_deg)} ± {number_text(within_deg, 0)}°"


def _lobes_figure(name: str, lobes: Lobes, say: Say) -> Figure:
    if is_seen(lobes):
        return Figure(name, say(lobes.height_mm), f"high at {angle_words(lobes.high_deg)}")
    return Figure(name, f"less than {say(2 * lobes.error_mm)}")


def told_so_far(analysis: Analysis, job: RunoutJob, lathe: Lathe, *, plane: int) -> list[Told]:
    """Return what can be said while a turn is being read: slips, and where things are heading.

    plane: the one being read, 1 or 2 [-]; jaws and flange are moved by the first.
    """
    say = lathe.indicator_text
    read, wanted = len(analysis.readings_mm), len(job.angles_deg)
    found = [Told("asked", line) for line in questions(analysis, job, say)]
    if read < wanted:
        found.append(Told("known", f"So far, with {read} of {wanted} readings; each one more makes it surer."))
    heading = worth_making(moves(analysis, job, lathe), analysis) if plane == 1 else ()
    return found + [Told("do", f"So far: {move.words(lathe)}.") for move in heading]


def told(found: Findings, earlier: Sequence[Findings], job: RunoutJob, lathe: Lathe) -> list[Told]:
    """Return all that a complete round tells: good enough or not, what changed, what to do, what cannot be told.

    earlier: the complete rounds before it, oldest first [-].
    """
    say, advised = lathe.indicator_text, advice(found, job, lathe)
    lines = [Told("asked", line) for analysis in found.analyses for line in questions(analysis, job, say)]
    # The first sentence says in words what the figures say.
    lines += [Told("verdict", line) for line in advised.stands[1:]]
    if earlier and job.workholding in REFITTED:
        lines.append(Told("changed", refit_words([one.first for one in (*earlier, found)], say)))
    elif earlier:
        lines += [Told("changed", line) for line in changes(earlier[-1], found, say)]
    # What the eccentricity could really be comes before the moves that are built on it.
    first = list(dict.fromkeys(line for analysis in found.analyses for line in aliases(analysis)))
    rest = dict.fromkeys(line for analysis in found.analyses for line in remarks(analysis, job, say))
    lines += [Told("known", line) for line in first]
    lines += [Told("do", line) for line in advised.to_do]
    lines += [Told("known", line) for line in advised.expect]
    return lines + [Told("known", line) for line in rest if line not in first]


def changes(before: Findings, after: Findings, say: Say) -> list[str]:
    """Return what a move has done to each plane, a sentence or two each."""
    pairs = list(zip(before.analyses, after.analyses, strict=False))
    words = [what_changed(earlier, later, say) for earlier, later in pairs]
    if len(words) < 2:
        return words
    return [f"{name.capitalize()}: {line[:1].lower()}{line[1:]}" for name, line in zip(PLANES, words, strict=True)]


def waiting_words(readings: Sequence[float]) -> str:
    """Say what is still wanted before anything can be told."""
    if len(readings) < 3:
        return "Three readings that reach round a third of the turn are the least that tells anything."
    return "These marks do not reach far enough round yet to tell an offset from a change of size."


def before_reading(job: RunoutJob, lathe: Lathe) -> list[Figure]:
    """Return what readings at these marks will be able to tell, before any is taken."""
    count, graduation = len(job.angles_deg), graduation_of(lathe)
    flat = analyse((0.0,) * count, job.angles_deg, job, graduation_mm=graduation)
    form = "the offset; next to nothing of form"
    if count >= FOR_OVAL:
        form = "offset and oval" if count < FOR_THREE_LOBES else "offset, oval, three lobes"
    planes = f" at each of two planes, {lathe.length_text(job.apart_mm)} apart" if job.apart_mm else ""
    found = [
        Figure("Readings", f"{count} round one turn{planes}", "and a closing one"),
        Figure("They tell", form),
        Figure("Eccentricity to", f"± {lathe.indicator_text(2 * flat.error_mm)}", "from the graduation alone"),
        Figure(
            "Graduation", lathe.indicator_text(graduation), "" if lathe.indicator else "assumed: none in the lathe file"
        ),
    ]
    return [*found, Figure("Not told apart", mistaken_words(job.angles_deg) or "nothing of up to five lobes")]


def given_words(found: Findings, job: RunoutJob, lathe: Lathe) -> list[Figure]:
    """Return what readings taken beforehand tell: figures, then verdict and what to do."""
    figures: list[Figure] = []
    for name, analysis in zip(PLANES, found.analyses, strict=False):
        lead = f"{name.capitalize()}: " if found.second is not None else ""
        figures += [figure._replace(name=lead + figure.name) for figure in figure_words(analysis, lathe.indicator_text)]
    names = {"verdict": "Good enough?", "do": "To do"}
    # Remarks and questions stand among the cautions of the plan.
    wanted = [line for line in told(found, (), job, lathe) if line.kind in {"verdict", "do"}]
    return figures + [Figure(names[line.kind], line.words) for line in wanted]
