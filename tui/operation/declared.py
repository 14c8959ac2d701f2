"""The form for a kind of operation that declares its fields and figures in core, without a screen of its own."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from core.operations.form import Figure, Form, Row, unused_keys
from core.operations.registry import OPERATIONS
from core.plan import Plan
from tui.glossary import OF_EVERY_FORM, OF_KIND
from tui.operation.form import OperationForm
from tui.operation.screen import FILLING_IN, OperationScreen


class DeclaredScreen(OperationScreen):
    """The form of one operation, with the fields and figures that the kind of operation declares."""

    def __init__(self, kind: str, form: Form, parameters: Mapping[str, Any] | None = None) -> None:
        """Make the form from `form`, the declaration of the kind.

        `parameters`: an operation's keys and values, which fill the fields; None for a new operation.
        """
        super().__init__(kind, parameters)
        self._declared = form
        self._purpose, _, details = form.help.partition("\n\n")
        self._details = f"{details}\n\n{FILLING_IN}".strip()

    @property
    def help_text(self) -> str:
        """The first paragraph of the kind's help text, which says what the form is for and what to do next."""
        return self._purpose

    @property
    def more_help(self) -> str:
        """The other paragraphs of the kind's help text, and instructions for filling in the fields."""
        return self._details

    @property
    def terms(self) -> tuple[str, ...]:
        """The terms that the help page explains: those of every form, and those of this kind of operation."""
        return (*OF_EVERY_FORM, *OF_KIND.get(self.kind, ()))

    def rows(self) -> Sequence[Row]:
        """Return the form's headings and fields, in the order in which a turner fills them in."""
        return self._declared.rows(self.context.lathe, self.initial)

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of the fields to hide: those that do not apply to the selected options."""
        return unused_keys(form.rows, form.chosen) | set(self._declared.spare(form.texts()))

    def make_form(self, table: Mapping[str, Any]) -> OperationForm:
        """Return the form's fields, filled in from an operation's keys and values.

        A kind that has lists may declare a separate field for each item of a list.
        """
        return super().make_form(self._declared.as_fields(table))

    def typed_table(self, name: str) -> dict[str, Any]:
        """Return the operation's keys and values as the user typed them, with `name` as the operation's name."""
        return dict(self._declared.as_table(super().typed_table(name)))

    def suggested_name(self) -> str:
        """Return the name that the kind suggests for the operation; the form's title if the entries are not valid."""
        if self.entered is None:
            return self.title or OPERATIONS[self.kind].title
        return self._declared.name(self.entered, self.context.lathe)

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return, by field key, the values that the plan uses for empty fields. The form shows these in brackets."""
        return self._declared.hints(self.entered, self.context.lathe)

    def summary(self, plan: Plan) -> str:
        """Return a sentence that sums up the plan, such as the number of cuts and the last dial reading."""
        return self._declared.summary(self.entered, self.context.lathe, plan)

    def figures(self, plan: Plan) -> Iterable[Figure]:
        """Return the plan's most important figures, which the page of figures shows first."""
        return self._declared.figures(self.entered, self.context.lathe, plan)
