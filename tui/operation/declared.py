"""The screen of every kind of operation that declares its own form: fields and figures are made from that."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from core.operations.form import Figure, Form, Row, unused_keys
from core.operations.registry import OPERATIONS
from core.plan import Plan
from tui.operation.form import OperationForm
from tui.operation.screen import OperationScreen

_FIELDS = (
    "A bare number counts in the unit behind its field. What stands in brackets in an empty field counts if nothing is "
    "typed. + and - choose among words."
)


class DeclaredScreen(OperationScreen):
    """Makes up one operation of a kind as its declaration says."""

    def __init__(self, kind: str, form: Form, parameters: Mapping[str, Any] | None = None) -> None:
        """`form`: what the kind declares; `parameters`: the table of such an operation to begin with."""
        super().__init__(kind, parameters)
        self._declared = form

    @property
    def help_text(self) -> str:
        """What the kind says of itself, and how its fields are filled in."""
        return f"{self._declared.help}\n\n{_FIELDS}"

    def rows(self) -> Sequence[Row]:
        """Return the questions in the order in which a turner asks."""
        return self._declared.rows(self.context.lathe, self.initial)

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the fields that do not apply to what is chosen."""
        return unused_keys(form.rows, form.chosen)

    def suggested_name(self) -> str:
        """Return the name that the kind suggests, its title while nothing can be planned."""
        if self.entered is None:
            return self.title or OPERATIONS[self.kind].title
        return self._declared.name(self.entered, self.context.lathe)

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return what counts where nothing is typed."""
        return self._declared.hints(self.entered, self.context.lathe)

    def summary(self, plan: Plan) -> str:
        """Return in a sentence what is to be set."""
        return self._declared.summary(self.entered, self.context.lathe, plan)

    def figures(self, plan: Plan) -> Iterable[Figure]:
        """Return what is wanted first."""
        return self._declared.figures(self.entered, self.context.lathe, plan)
