"""Every screen equals its saved picture: see tests/tui/pictures."""

import pytest

from tests.tui.pictures.taking import COMMAND, HERE, difference, pictures
from tests.tui.pictures.walks import WALKS, Walk, names


@pytest.mark.parametrize("walk", WALKS, ids=[walk.name for walk in WALKS])
async def test_each_screen_matches_its_saved_picture(walk: Walk) -> None:
    """Every word is the same and in the same position."""
    changed = [line for name, picture in (await pictures(walk)).items() for line in difference(name, picture)]
    if changed:
        pytest.fail("\n".join([*changed, "", f"If that is meant: {COMMAND} {walk.name}"]), pytrace=False)


def test_each_picture_name_belongs_to_exactly_one_saved_file() -> None:
    """No saved picture is unused or missing, and no two have the same name."""
    taken = names()
    assert len(set(taken)) == len(taken)
    assert {path.stem for path in HERE.glob("*.txt")} == set(taken)
