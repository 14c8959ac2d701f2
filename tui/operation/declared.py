"""The form of any kind of operation that declares its own fields and figures."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from core.operations.form import Figure, Form, Row, unused_keys
from core.operations.registry import OPERATIONS
from core.plan import Plan
from tui.glossary import OF_EVERY_FORM, OF_KIND
from tui.operation.form import OperationForm
from tui.operation.screen import FILLING_IN, OperationScreen


class DeclaredScreen(OperationScreen):
    """The form of one operation whose kind declares the fields and figures."""

    def __init__(self, kind: str, form: Form, parameters: Mapping[str, Any] | None = None) -> None:
        """`form` is the declaration of the kind.

        `parameters` are the operation's keys and values, which fill the fields.
        """
        super().__init__(kind, parameters)
        self._declared = form
        self._purpose, _, details = form.help.partition("\n\n")
        self._details = f"{details}\n\n{FILLING_IN}".strip()

    @property
    def help_text(self) -> str:
        """The first paragraph of the kind's help text: the purpose of the form and the user's next action."""
        return self._purpose

    @property
    def more_help(self) -> str:
        """The rest of the kind's help text, and instructions for filling in the fields."""
        return self._details

    @property
    def terms(self) -> tuple[str, ...]:
        """The terms of every form and the terms of this kind."""
        return (*OF_EVERY_FORM, *OF_KIND.get(self.kind, ()))

    def rows(self) -> Sequence[Row]:
        """Return headings and fields in the order in which a turner decides."""
        return self._declared.rows(self.context.lathe, self.initial)

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of fields that do not apply to the present choices."""
        return unused_keys(form.rows, form.chosen) | set(self._declared.spare(form.texts()))

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the fields, filled in from an operation's keys and values. A list may have one row for each item."""
        return super().make_form(self._declared.as_fields(table))

    def typed_table(self, name: str) -> dict[str, Any]:
        """Return the operation's keys and values as the user typed them."""
        return dict(self._declared.as_table(super().typed_table(name)))

    def suggested_name(self) -> str:
        """Return a name for the operation, suggested by its kind, or the title of the kind if there is no plan."""
        if self.entered is None:
            return self.title or OPERATIONS[self.kind].title
        return self._declared.name(self.entered, self.context.lathe)

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return, by field key, the values that apply to empty fields."""
        return self._declared.hints(self.entered, self.context.lathe)

    def summary(self, plan: Plan) -> str:
        """Return a sentence that says what to set."""
        return self._declared.summary(self.entered, self.context.lathe, plan)

    def figures(self, plan: Plan) -> Iterable[Figure]:
        """Return the most important figures, shown first."""
        return self._declared.figures(self.entered, self.context.lathe, plan)
