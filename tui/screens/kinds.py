"""Which screen makes up which kind of operation; its module is loaded when it is asked for.

A kind that declares its form needs no line here: only what is drawn or read besides needs a screen of its own.
"""

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, cast

from core.operations.registry import operation_of

if TYPE_CHECKING:
    from tui.screens.operation import OperationScreen

_SCREENS: Mapping[str, tuple[str, str]] = {
    "thread": ("threading", "ThreadingScreen"),
    "runout": ("runout", "RunoutScreen"),
    "divide": ("indexing", "IndexingScreen"),
    "holes": ("holes", "HolesScreen"),
    "pattern": ("pattern", "PatternScreen"),
}


def screen_for(kind: str, parameters: Mapping[str, Any] | None = None) -> "OperationScreen | None":
    """Return the screen for an operation of a kind, filled in with its table; None for a kind that has no screen."""
    if kind not in _SCREENS:
        from tui.screens.declared import DeclaredScreen

        form = operation_of(kind).form
        return DeclaredScreen(kind, form, parameters) if form else None
    module, name = _SCREENS[kind]
    return cast("OperationScreen", getattr(import_module(f"tui.screens.{module}"), name)(parameters))
