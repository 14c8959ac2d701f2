"""The pattern form's keys for errors of the set-up: to draw errors larger, correct errors, or copy a runout check."""

from collections.abc import Iterator
from itertools import chain
from typing import TYPE_CHECKING

from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from core.operations.patterns.picture import ErrorsView
from core.run.runout_checks import WAYS, RunoutCheck, check_of_run, checks_in_job
from core.values.errors import CoreError
from core.values.plain_text import clean
from tui.glyphs import glyphs_of
from tui.operation.pictured import PicturedScreen
from tui.operation.results import PICTURES
from tui.operation.screen import PLANNING
from tui.pattern.form import PatternForm
from tui.widgets.pattern_sketch import ErrorsChange, PatternSketch
from tui.widgets.question import OneOf

if TYPE_CHECKING:
    from core.operations.patterns.errors_drawn import PatternErrors

ERROR_KEYS = (
    Binding(
        "ctrl+e",
        "errors('larger')",
        "Errors",
        priority=True,
        tooltip="Draw the errors of the set-up larger, or at true size.",
    ),
    Binding(
        "ctrl+n",
        "errors('other_way')",
        "Corrected",
        show=False,
        priority=True,
        tooltip="Draw the pattern with its errors corrected, or uncorrected.",
    ),
    Binding(
        "ctrl+t",
        "take_over",
        "Runout",
        show=False,
        priority=True,
        tooltip="Copy the eccentricity from a runout check.",
    ),
)
_MOST_RUNS = 30
"""How many of the most recent runs in the log are searched for a runout check."""


class DrawsErrors(PicturedScreen):
    """A form whose picture shows errors of the set-up."""

    LEGEND = ""
    """The legend for the signs in the picture."""

    def show_errors(self, errors: "PatternErrors | None") -> None:
        """Draw a pattern with its errors, in the display that the user chose last. None clears the picture."""
        sketch = self.query_one(PatternSketch)
        sketch.errors = errors
        if errors is None:
            sketch.show_pattern(None)
        elif sketch.show_errors(errors, sketch.errors_view):
            # If the lathe cannot set the pattern with these errors, draw the pattern as planned.
            sketch.show_errors(errors, ErrorsView())
        self.drawn_otherwise()
        self.follow_picture()
        self.refresh_bindings()

    def is_useful(self, action: str) -> bool:
        """Return whether the key for an action does something now.

        The key that draws errors larger is useful only if there are errors to draw.
        """
        return action != "errors('larger')" or (self.is_mounted and self.query_one(PatternSketch).can_change_errors)

    def drawn_otherwise(self) -> None:
        """Say in the legend how the errors are drawn now."""
        sketch = self.query_one(PatternSketch)
        words = self._error_words
        keys = " Ctrl+E: errors larger." if sketch.can_change_errors else ""
        keys += " Ctrl+N: with or without correction." if sketch.can_correct_errors else ""
        legend = PLANNING if self.is_planning else f"{words}{keys} {self.LEGEND}".strip()
        self.query_one("#legend", Static).update(Content(glyphs_of(self.app).text(legend)))

    @property
    def _error_words(self) -> str:
        """One or two sentences on how the picture shows the errors; "" without errors."""
        sketch = self.query_one(PatternSketch)
        return "" if sketch.errors is None else sketch.errors.words(sketch.errors_view)

    def action_errors(self, how: ErrorsChange) -> None:
        """Draw the errors of the set-up larger, or switch between corrected and uncorrected errors, as `how` says."""
        if self.is_planning:
            self.show_message(PLANNING)
            return
        sketch = self.query_one(PatternSketch)
        if not (sketch.can_correct_errors if how == "other_way" else sketch.can_change_errors):
            wanted = "a height error or an eccentricity" if how == "other_way" else "an error of the set-up"
            self.show_message(f"No error is entered. Enter {wanted}, such as 0.05 mm.")
            return
        refusal = sketch.change_errors(how)
        self.drawn_otherwise()
        is_seen = PICTURES in self._visible.shown(self.page)
        self.show_message(refusal or ("" if is_seen else self._error_words))

    # From a runout check.

    def action_take_over(self) -> None:
        """Copy the eccentricity, or the runout of the face, from a runout check in the job or in the log."""
        self.context.ask_in_turn(self._take_over())

    async def _take_over(self) -> None:
        checks, context = list(self._checks()), self.context
        if not checks:
            self.show_message("No finished runout check was found. Check the runout first, or enter the eccentricity.")
            return
        index: int | None = 0
        if len(checks) > 1:
            lines = [clean(check.words(context.lathe), 70) for check in checks]
            index = await context.ask(OneOf("Which runout check?", lines))
        if index is None:
            return
        check = checks[index]
        question = "Looking at the face of the work, in which direction did it turn during the check?"
        way = await context.ask(OneOf(question, WAYS, detail=[check.words(context.lathe)]))
        if way is not None:
            self._fill_in_check(check, way)

    def _fill_in_check(self, check: RunoutCheck, way: int) -> None:
        form, keys = self.query_one(PatternForm), check.keys(WAYS[way])
        for key, text in keys.items():
            form.entries[key][1].text = text
        self._unsaved = True
        self.judge()
        values = ", ".join(f"{form.label_of(key).strip().lower()} {text or 'empty'}" for key, text in keys.items())
        self.show_message(f"From {check.name}: {values}. Mark 0 of the check now counts as 0 deg of the pattern.")

    def _checks(self) -> Iterator[RunoutCheck]:
        """Yield the runout checks that can be copied: runs of the open job, readings in its file, then all other runs.

        Newer runs come first. If several checks of the open job have the same name, only the first is yielded.
        """
        job, found = self.context.job, set[str]()
        own = None if job is None else str(job.path.resolve())
        for check in chain(self._logged_checks(own, is_own=True), checks_in_job(job)):
            if check.name not in found:
                found.add(check.name)
                yield check
        yield from self._logged_checks(own, is_own=False)

    def _logged_checks(self, own: str | None, *, is_own: bool) -> Iterator[RunoutCheck]:
        """Yield the checks in the log that belong to the open job; if `is_own` is false, those that do not.

        `own`: the open job's path; None without a job.
        """
        if own is None and is_own:
            return
        from core.events.replay import replay
        from core.run.event_words import run_names, wall_parts
        from core.run.revising import plan_input_of

        try:
            logbook = self.context.log.logbook()
            for run in logbook.runs(own if is_own else None, limit=_MOST_RUNS):
                is_of_job = run.origin is not None and run.origin.job_path == own
                if run.kind != "runout" or is_of_job != is_own:
                    continue
                state = replay(logbook.events(run.uid), run.uid)
                name, title = run_names(run)
                source = "this job" if is_own else title or "without a job"
                date, time = wall_parts(run.begun)
                source = f"{source}, {date} {time[:5]}"
                if (check := check_of_run(name, source, plan_input_of(state.plan_input), state)) is not None:
                    yield check
        except CoreError:
            # A log that cannot be read leaves the checks whose readings are in the job file.
            return
