"""The figures of patterns on the pages: every figure of every layer, and no list of elements."""

from typing import Any

from core.lathe.reader import example_lathe
from core.pages.figure_words import figure_lines, table_rows
from tests.core.figures import figures
from tests.core.operations.patterns.divided import figures_of
from tests.core.operations.patterns.made import job, layer, places

LATHE = example_lathe()
SHAPES = (
    layer(5, 6, 2.0, about_mm=(20.0, 0.0), repeat=2, repeat_offset_mm=10.0, depths_mm=(0.6, 0.3)),
    places((3.0, 4.0), (20.0, 0.0), shape="dots"),
    layer(12, 30, shape="slots", to_offset_mm=36.0),
    layer(1, 42, shape="arcs", through=360),
)


def of_every_shape(**changes: int) -> dict[str, Any]:
    """Return the figures of a pattern with a layer of every shape."""
    return figures_of(job(*SHAPES, blank_diameter_mm=90.0), LATHE, **changes)


def test_no_page_lists_the_individual_grooves_of_a_pattern() -> None:
    """The list is for other programs. The page shows the number of wrongly cut positions, unless it is zero."""
    lines = list(figure_lines(of_every_shape(cutter_changes=2, head_changes=0, plate_changes=1), whole=True))
    names = [name for name, _ in lines]
    assert not any("element" in name for name in names)
    assert [name for name in names if "changes" in name] == ["changes of cutter", "changes of plate"]
    (land,) = [text for name, text in lines if "land" in name]
    assert land.endswith("%") and len(figures(land)) == 1


def test_each_figure_of_a_layer_is_shown_in_a_row_of_its_own() -> None:
    """Two rings of five are 0.3 to 0.6 mm deep. Dots have no lines that could cross, and a slot has no crossings."""
    lines = list(figure_lines(of_every_shape(), whole=True))
    starts = [number for number, (name, _) in enumerate(lines) if name.startswith("layer ")]
    first, dots, slots, border = (
        dict(lines[start:end]) for start, end in zip(starts, [*starts[1:], len(lines)], strict=True)
    )
    assert figures(first["layer 1"]) == {"5", "2", "6"} and figures(first["  groove"]) == {"1.2", "0.3", "0.6"}
    assert figures(first["  neighbours"]) == {"7.053", "3.053"}
    assert "  crossings" in first and "  crossings" not in dots.keys() | slots.keys()
    assert figures(dots["  reach"]) == {"5", "20"} and figures(slots["  reach"]) == {"30", "36"}
    assert figures(border["  reach"]) == {"42"}


def test_the_board_shows_only_the_description_and_the_grooves_of_each_layer() -> None:
    """The board has little room."""
    names = [name for name, _ in figure_lines(of_every_shape())]
    assert names[:4] == ["layer 1", "  groove", "layer 2", "  groove"]


def test_every_row_of_the_table_of_layers_has_a_readable_name() -> None:
    """Every row of the printed card has words for its name, not a key of the file."""
    rows = dict(table_rows(of_every_shape()["layers"], "mm"))
    assert rows["shape"] == ["circles", "dots", "slots", "arcs"]
    assert rows["places where circles cross"][1:] == ["", "", ""]
    assert not any("_" in name for name in rows)
