"""Deleting lathes and answers on screen. The tests check the files on disk."""

from pathlib import Path

import pytest

from core.lathe.writer import write_lathe
from core.values.files import read_toml
from tests.conftest import MakeApp
from tests.tui.made_up import said
from tests.tui.painted import painted
from tests.tui.setup_keys import chapter, keys, set_up
from tui.app import HalfnutApp
from tui.paths import Paths
from tui.setup.lathes import LathesScreen
from tui.setup.screen import SetupScreen
from tui.widgets.question import OneOf

SAMPLES = Path(__file__).parents[3] / "sample_jobs"


def on_disk(folder: Path) -> dict[str, bytes]:
    """Return the content of every file below a folder, by path."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.endswith(".log")
    }


@pytest.fixture
def two_lathes(paths: Paths) -> Path:
    """Put two lathes into the user's folder, lathe.toml in use. Return the path of the other lathe."""
    write_lathe(paths.own_lathe, read_toml(SAMPLES / "metric_lathe.toml"))
    return write_lathe(paths.config / "other.toml", {**read_toml(SAMPLES / "inch_lathe.toml"), "name": "Other"})


async def test_deleting_a_lathe_deletes_only_its_own_file_and_unfinished_answers(
    make: MakeApp, paths: Paths, two_lathes: Path
) -> None:
    """The question has "no" selected."""
    before = on_disk(paths.config)
    async with set_up(make) as pilot:
        await keys(pilot, "l", "end", "enter")
        await chapter(pilot, "dial.tailstock", "1", "1", "=7", "enter")
        assert "drafts/other.json" in on_disk(paths.config)
        await keys(pilot, "l", "d")
        await pilot.pause()
        await keys(pilot, "enter")
        await pilot.pause()
        assert two_lathes.exists()
        await keys(pilot, "d")
        await pilot.pause()
        assert isinstance(pilot.app.screen, OneOf) and "other.toml" in painted(pilot.app)
        await keys(pilot, "3")
        await pilot.pause()
        assert isinstance(pilot.app.screen, LathesScreen) and said(pilot.app)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SetupScreen)
        assert "lathe.toml" in painted(pilot.app) and "other.toml" not in painted(pilot.app)
    left = on_disk(paths.config)
    assert left == {name: content for name, content in before.items() if name != "other.toml"}


async def test_unfinished_answers_about_the_lathe_in_use_can_be_deleted(
    make: MakeApp, paths: Paths, two_lathes: Path
) -> None:
    """The lathe file stays, and set-up shows it."""
    before = on_disk(paths.config)
    async with set_up(make) as pilot:
        await chapter(pilot, "dial.boring_head", "1", "1", "ctrl+u", "=7", "enter")
        assert on_disk(paths.config) != before
        await keys(pilot, "l", "home", "d")
        await pilot.pause()
        await keys(pilot, "2")
        await pilot.pause()
        assert on_disk(paths.config) == before
        await keys(pilot, "d")
        # There is nothing more to delete.
        assert isinstance(pilot.app.screen, LathesScreen) and said(pilot.app)
        await keys(pilot, "escape")
        assert not said(pilot.app)
    assert on_disk(paths.config) == before


async def test_unfinished_answers_without_a_lathe_file_can_be_deleted(make: MakeApp, paths: Paths) -> None:
    """A first lathe that has only answers is in the list."""
    async with set_up(make) as pilot:
        await chapter(pilot, "dial.carriage", "1", "1", "=7", "enter")
        await keys(pilot, "l", "u")
        assert isinstance(pilot.app.screen, LathesScreen) and pilot.app.screen.lathe is not None and said(pilot.app)
        await keys(pilot, "d")
        await pilot.pause()
        await keys(pilot, "2")
        await pilot.pause()
        assert isinstance(pilot.app.screen, LathesScreen) and pilot.app.screen.lathe is None
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SetupScreen)
    assert on_disk(paths.config) == {}


async def test_a_lathe_named_by_the_open_job_or_by_the_lathe_option_cannot_be_deleted(
    make: MakeApp, paths: Paths, two_lathes: Path, tmp_path: Path
) -> None:
    """The open job names the lathe, or the option --lathe does."""
    job = tmp_path / "job.toml"
    job.write_text(
        f'format = 1\ntitle = "Arbor"\nlathe = "{two_lathes}"\n'
        '[[operation]]\nkind = "by_hand"\nname = "Deburr"\ntext = "Every edge."\n'
    )
    for more in ({"job": job}, {"lathe": two_lathes}):
        async with set_up(make, **more) as pilot:
            await keys(pilot, "l", "end", "d")
            app = pilot.app
            assert isinstance(app, HalfnutApp) and isinstance(app.screen, LathesScreen) and said(app)
        assert two_lathes.exists()
