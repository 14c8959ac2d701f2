"""The turning screen: a diameter from one size to another, or any slide from one place to another, in passes."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from core.lathe import dial_words
from core.plan import Plan
from tui.screens.operation import OperationScreen
from tui.widgets.figure_list import Figure
from tui.widgets.operation_form import Choice, Entry, Row


class TurningScreen(OperationScreen):
    """Makes up one `turn` or `cut` operation."""

    HELP = (
        "Roughing cuts are equal and no deeper than you allow; then comes a cut as deep as the finishing cut, so that "
        "the tool springs alike in both, with a measurement before and after it.\n\n"
        "A bare number counts in the unit behind its field. What stands in brackets in an empty field counts if "
        "nothing is typed. + and - choose among words. Depths of cuts are on the radius."
    )

    def __init__(self, kind: str, parameters: Mapping[str, Any] | None = None) -> None:
        """`kind`: "turn" or "cut"; `parameters`: the table of such an operation to begin with."""
        super().__init__(kind, parameters)

    def rows(self) -> Sequence[Row]:
        """Return the questions in the order in which a turner asks."""
        unit = self.halfnut.lathe.unit
        return (
            *self._where(unit),
            Entry(key="material", label="Material", hint="(not given)"),
            "How to cut",
            Entry(key="cut", label="Deepest cut", unit=unit, required=True),
            Entry(key="finish", label="Finishing cut", unit=unit),
        )

    def _where(self, unit: str) -> tuple[Row, ...]:
        if self.kind == "turn":
            return (
                "Which diameter",
                Choice(key="side", label="Side", options=(("outside", None), ("inside", "inside"))),
                Entry(key="from", label="Diameter now, measured", unit=unit, required=True),
                Entry(key="to", label="Diameter wanted", unit=unit, required=True),
            )
        return (
            "Which slide, from where to where",
            Choice(key="dial", label="Slide", options=_dials(list(self.halfnut.lathe.dials))),
            Entry(key="from", label="From", unit=unit, required=True),
            Entry(key="to", label="To", unit=unit, required=True),
        )

    def suggested_name(self) -> str:
        """Return what is turned to which size, or cut with which slide."""
        if self.found is None:
            return self.title or self.kind
        to = self.halfnut.lathe.say(self.found.to_mm)
        return f"Turn to {to}" if self.kind == "turn" else f"Cut to {to} with the {dial_words(self.found.dial)}"

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return the finishing cut that counts where none is typed."""
        return {"finish": self.halfnut.lathe.say(self.found.finish_mm)}

    def summary(self, plan: Plan) -> str:
        """Return how many cuts there are and where the last one ends."""
        return f"{plan.figures['passes']} cuts, the last: {self._reading(plan, -1)}."

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Return the cuts, the first and the last reading."""
        say, found = self.halfnut.lathe.say, self.found
        cuts = [step for step in plan.steps if step.action == "cut"]
        diameters = " diameter" if found.on_diameter else ""
        yield Figure("From", say(found.from_mm) + diameters)
        yield Figure("To", say(found.to_mm) + diameters)
        yield Figure("To take off", say(found.total_mm), "on the radius" if found.on_diameter else "of travel")
        yield Figure("Cuts", str(len(cuts)))
        yield Figure("First cut", self._reading(plan, 0), f"takes {say(cuts[0].removed_mm or 0.0)}")
        yield Figure("Finishing cut", self._reading(plan, -1), f"takes {say(cuts[-1].removed_mm or 0.0)}")

    def _reading(self, plan: Plan, number: int) -> str:
        """Return what is set for one of the cuts."""
        dial = self.halfnut.lathe.dials[self.found.dial]
        setting = [step for step in plan.steps if step.action == "cut"][number].setting(dial.name)
        return f"{dial_words(dial.name)} to {dial.setting_text(setting)}" if setting else dial_words(dial.name)


def _dials(names: list[str]) -> tuple[tuple[str, str | None], ...]:
    """Return the dials by the names they are spoken by; "none" where the lathe has none."""
    return tuple((dial_words(name), name) for name in names) or (("none", None),)
