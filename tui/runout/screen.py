"""The form of a runout check: what the indicator touches, the workholding, and readings taken earlier."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from textual.containers import Vertical
from textual.widget import Widget
from textual.widgets import Static

from core.operations.form import Choice, Entry, Figure, Row
from core.operations.runout.advice import summary
from core.operations.runout.findings import expected_figures, job_reading_figures
from core.operations.runout.job import SURFACES, USUAL_POSITIONS, WORKHOLDINGS, graduation_of
from core.operations.runout.picture import polar_view
from core.operations.runout.readings import CONVENTIONS, DRAWING, list_text, plane_lists, split_list
from core.operations.runout.sets_of_readings import SetAnalysis, analyse_set, turns_in_job
from core.plan import Plan
from core.run.runout_view import SetOfReadings, turns_to_draw
from core.values.errors import PlanError
from tui.glyphs import glyphs_of
from tui.operation.form import OperationForm
from tui.operation.results import FIELDS, FIGURES, PICTURES, STEPS
from tui.operation.screen import OperationScreen
from tui.runout.polar_picture import PolarPicture

SPREAD, OTHER, OWN = "spread", "other", "own marks"
_COUNTS = (4, 6, 8, 12, 24)
_SECOND = "readings_second"
_LONGEST_LIST = 4000


class RunoutForm(OperationForm):
    """The fields of a runout check.

    A list, such as the readings, is typed into one field and becomes a list in the job.
    """

    def __init__(self, rows: Sequence[Row], table: Mapping[str, Any], unit: str) -> None:
        first, second = plane_lists(table.get("readings", []))
        typed = {**table, "readings": list_text(first), _SECOND: list_text(second)}
        typed["angles"] = list_text(table.get("angles", []))
        super().__init__(rows, {"positions": taken_beforehand(table), **typed})
        self._unit = unit
        # The form does not add usual values to a table that leaves them open.
        self._implied = bool(table.get("kind")) and not {"positions", "angles"} & set(table)

    def table(self) -> dict[str, Any]:
        """Return the operation's keys and values as in a job file, with whole numbers and lists."""
        table = super().table()
        if "planes" in table:
            table["planes"] = int(table["planes"])
        if "angles" in table:
            table["angles"] = split_list(table["angles"], "deg")
        second = table.pop(_SECOND, "")
        if "readings" in table:
            first = split_list(table["readings"], self._unit)
            table["readings"] = [first, split_list(second, self._unit)] if table.get("planes") == 2 else first
        return self._with_positions(table)

    def _with_positions(self, table: dict[str, Any]) -> dict[str, Any]:
        """Return the table with the number of readings.

        Leave the number out if the marks are given as a list, or if the form came from a job file without the number
        and the number has not been changed.
        """
        chosen = self.chosen(SPREAD)
        if chosen == OWN:
            return table
        count = int(chosen) if chosen.isdecimal() else table.pop("positions", None)
        if count is None or (self._implied and count == taken_beforehand(table)):
            return table
        return {**table, "positions": count}


def taken_beforehand(table: Mapping[str, Any]) -> int:
    """Return the number of readings that an operation's keys and values hold for each plane.

    Without readings, return the usual number.
    """
    first, _ = plane_lists(table.get("readings", []))
    return len(first) if isinstance(first, list | tuple) and first else USUAL_POSITIONS


class RunoutScreen(OperationScreen):
    """The form for one runout operation."""

    HELP = (
        "This form describes a runout check: what the indicator touches, and how the work is held. "
        "Fill in the fields and press F5 to take the readings one after the other. "
        "If you have readings already, type them into one field with spaces between them to see the result."
    )
    MORE_HELP = "\n\n".join(CONVENTIONS) + "\n\n" + DRAWING.rstrip()
    TERMS = ("runout", "TIR", "eccentricity", "closing reading", "plunger", "plane", "workholding", "bolt circle")
    PAGES = (FIELDS, FIGURES, STEPS, PICTURES)
    DEFAULT_CSS = """
    RunoutScreen PolarPicture { height: 1fr; min-height: 15; }
    RunoutScreen #drawn { height: auto; }
    RunoutScreen #polar-box { height: 100%; }
    """

    def __init__(self, parameters: Mapping[str, Any] | None = None) -> None:
        """Make the form.

        `parameters`: a `runout` operation's keys and values, which fill the fields; None for a new operation.
        """
        super().__init__("runout", parameters)

    def rows(self) -> Sequence[Row]:
        """Return the headings and fields, in the order in which a turner fills them in."""
        unit, reads = self.context.lathe.unit, self.context.lathe.indicator_unit
        return (
            "What is indicated",
            Choice(key="surface", label="Surface", options=self._surfaces()),
            Entry(key="diameter", label="Diameter there", unit=unit, hint="(not set)"),
            Choice(key="planes", label="Read at", options=(("one plane", self._one_plane()), ("two planes", "2"))),
            Entry(key="apart", label="Planes apart", unit=unit, required=True),
            "How it is held",
            Choice(
                key="workholding",
                label="Workholding",
                options=(("not set", None), *((word, word) for word in WORKHOLDINGS)),
            ),
            Entry(key="bolt_circle", label="Bolt circle", unit=unit, hint="(the diameter)"),
            "How it is read",
            Choice(key=SPREAD, label="Readings in one turn", options=_counts(), start=self._spread()),
            Entry(key="positions", label="How many", whole=True, required=True),
            Entry(key="angles", label="Marks, in degrees", required=True, longest=_LONGEST_LIST),
            Entry(key="stylus_angle", label="Stylus off the surface", unit="deg", hint="(0°)"),
            Entry(key="tolerance", label="Tolerance (TIR)", unit=reads, hint="(not set)"),
            "Readings taken earlier",
            Entry(key="readings", label=f"Readings, {reads}", hint="(none)", longest=_LONGEST_LIST),
            Entry(key=_SECOND, label=f"Second plane, {reads}", required=True, longest=_LONGEST_LIST),
            Entry(key="drift", label="Last minus first reading", unit=reads, hint="(0)"),
        )

    def _surfaces(self) -> tuple[tuple[str, str | None], ...]:
        """Return the surfaces to choose from, each with its word in a job file.

        The usual surface has None instead if the form came from a job file that names no surface.
        """
        usual = None if self.initial and "surface" not in self.initial else SURFACES[0]
        return ((SURFACES[0], usual), *((word, word) for word in SURFACES[1:]))

    def _one_plane(self) -> str | None:
        return "1" if self.initial.get("planes") == 1 else None

    def _spread(self) -> str:
        if "angles" in self.initial:
            return OWN
        count = self.initial.get("positions", taken_beforehand(self.initial))
        return str(count) if count in _COUNTS else OTHER

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the form's fields, filled in from an operation's keys and values."""
        planes = table.get("planes")
        return RunoutForm(self.rows(), table if planes is None else {**table, "planes": str(planes)}, self.reading_unit)

    @property
    def reading_unit(self) -> str:
        """The unit of readings typed without a unit."""
        return self.context.lathe.indicator_unit

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of fields that do not apply to the chosen surface, workholding, planes or marks."""
        face, two = form.chosen("surface") == "face", form.chosen("planes") == "two planes"
        spread, held = form.chosen(SPREAD), form.chosen("workholding")
        unused = {"planes"} if face else set()
        unused |= set() if two and not face else {"apart", _SECOND}
        unused |= set() if spread == OTHER else {"positions"}
        unused |= set() if spread == OWN else {"angles"}
        unused |= set() if face or (held == "flange" and two) else {"bolt_circle"}
        if not form.entries["readings"][1].text.strip():
            unused |= {"drift", _SECOND}
        return unused

    @property
    def material(self) -> str | None:
        """The open job's material; None without a job or a material.

        The form does not ask for the material, because it does not affect runout.
        """
        return self.context.job.material if self.context.job else None

    @property
    def _taken(self) -> SetAnalysis | None:
        """The analysis of readings taken earlier; None if there are no readings, or if they cannot be analysed."""
        job = self.entered
        if self.plan is None or not job.readings_mm:
            return None
        try:
            return analyse_set(job, turns_in_job(job), graduation_of(self.context.lathe))
        except PlanError:
            return None

    def suggested_name(self) -> str:
        """Return a name for the operation, such as "Runout of the bore"."""
        where = {"bore": "of the bore", "face": "of the face"}.get(getattr(self.entered, "surface", ""), "outside")
        return f"Runout {where}"

    def summary(self, plan: Plan) -> str:
        """Return a sentence with the result of the readings. Without readings, the sentence says how many to take."""
        taken = self._taken
        if taken is not None:
            return summary(taken.first, self.entered, self.context.lathe.indicator_text)
        readings, _, error, *_ = expected_figures(self.entered, self.context.lathe)
        return f"{readings.value}; eccentricity to {error.value}."

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Yield the results of the readings or, without readings, the uncertainty to expect."""
        taken, lathe = self._taken, self.context.lathe
        lines = (
            expected_figures(self.entered, lathe) if taken is None else job_reading_figures(taken, self.entered, lathe)
        )
        return (Figure(*figure) for figure in lines)

    def pictures(self) -> Sequence[Widget]:
        """Return the polar picture and its legend."""
        return (
            Vertical(PolarPicture(id="polar"), Static(id="legend", markup=False), id="polar-box"),
            Static(DRAWING, id="drawn", markup=False),
        )

    def show_pictures(self) -> None:
        """Draw the readings taken earlier. Without readings, draw the marks to read."""
        picture, legend = self.query_one(PolarPicture), self.query_one("#legend", Static)
        if self.plan is None:
            picture.show_view(None)
            legend.update("")
            return
        job, lathe = self.entered, self.context.lathe
        graduation = graduation_of(lathe)
        reads = turns_to_draw(SetOfReadings(job=job, turns=turns_in_job(job), graduation_mm=graduation), 1)
        view = polar_view(reads, job, mark_deg=None, graduation_mm=graduation, length_text=lathe.indicator_text)
        picture.show_view(view)
        legend.update(glyphs_of(self.app).text(f"{view.scale} {view.legend}."))


def _counts() -> tuple[tuple[str, None], ...]:
    return tuple((words, None) for words in (*map(str, _COUNTS), OTHER, OWN))
