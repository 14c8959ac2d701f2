"""Which screen makes up which kind of operation; its module is loaded when it is asked for."""

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from tui.screens.operation import OperationScreen

_SCREENS: Mapping[str, tuple[str, str]] = {
    "thread": ("threading", "ThreadingScreen"),
    "runout": ("runout", "RunoutScreen"),
    "index": ("indexing", "IndexingScreen"),
    "bolts": ("bolts", "BoltsScreen"),
    "rings": ("rings", "RingsScreen"),
}


def screen_for(kind: str, parameters: Mapping[str, Any] | None = None) -> "OperationScreen | None":
    """Return the screen for an operation of a kind, filled in with its table; None for a kind that has no screen."""
    if kind in {"turn", "face", "groove"}:
        from tui.screens.turning import TurningScreen

        return TurningScreen(kind, parameters)
    if kind not in _SCREENS:
        return None
    module, name = _SCREENS[kind]
    return cast("OperationScreen", getattr(import_module(f"tui.screens.{module}"), name)(parameters))
