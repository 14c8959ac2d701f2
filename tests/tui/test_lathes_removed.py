"""Removing lathes and waiting answers on screen; what is left is seen on disk."""

from pathlib import Path

import pytest

from core.files import read_toml
from core.lathe_writer import write_lathe
from tests.conftest import MakeApp
from tests.tui.painted import painted
from tests.tui.setup_keys import chapter, keys, set_up
from tui.app import HalfnutApp
from tui.paths import Paths
from tui.screens.setup import SetupScreen
from tui.screens.setup_lathes import LathesScreen

SAMPLES = Path(__file__).parents[2] / "sample_jobs"


def on_disk(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder and what is in it."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.endswith(".log")
    }


@pytest.fixture
def two_lathes(paths: Paths) -> Path:
    """Keep two lathes in the user's folder, of which lathe.toml counts; return the other one."""
    write_lathe(paths.own_lathe, read_toml(SAMPLES / "metric_lathe.toml"))
    return write_lathe(paths.config / "other.toml", {**read_toml(SAMPLES / "inch_lathe.toml"), "name": "Other"})


async def test_a_lathe_goes_with_its_answers(make: MakeApp, paths: Paths, two_lathes: Path) -> None:
    """It asks, Nothing is pointed at, and nothing but the file named and its draft is touched."""
    before = on_disk(paths.config)
    async with set_up(make) as pilot:
        await keys(pilot, "l", "end", "enter")
        await chapter(pilot, "Tailstock", "1", "1", "=7", "enter")
        assert "drafts/other.json" in on_disk(paths.config)
        await keys(pilot, "l", "d")
        await pilot.pause()
        await keys(pilot, "enter")
        await pilot.pause()
        assert two_lathes.exists()
        await keys(pilot, "d")
        await pilot.pause()
        shown = " ".join(painted(pilot.app).split())
        assert "The file other.toml" in shown and "There is no way back." in shown
        await keys(pilot, "3")
        await pilot.pause()
        # A long path is broken wherever the line ends.
        assert "other.tomlisremoved." in "".join(painted(pilot.app).split())
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SetupScreen)
        assert "lathe.toml, which counts" in " ".join(painted(pilot.app).split())
    left = on_disk(paths.config)
    assert left == {name: content for name, content in before.items() if name != "other.toml"}


async def test_answers_alone_go(make: MakeApp, paths: Paths, two_lathes: Path) -> None:
    """Of the lathe that counts only the answers can go; set-up then shows what its file says."""
    before = on_disk(paths.config)
    async with set_up(make) as pilot:
        await chapter(pilot, "Tailstock", "1", "1", "ctrl+u", "=7", "enter")
        await keys(pilot, "l", "home")
        assert "answers wait" in painted(pilot.app)
        await keys(pilot, "d")
        await pilot.pause()
        assert "its file cannot go" in " ".join(painted(pilot.app).split())
        await keys(pilot, "2")
        await pilot.pause()
        assert "that waited are removed" in " ".join(painted(pilot.app).split())
        await keys(pilot, "d")
        assert "is the lathe that counts: it cannot be removed" in " ".join(painted(pilot.app).split())
        await keys(pilot, "escape")
        assert "Not in the file yet" not in painted(pilot.app)
    assert on_disk(paths.config) == before


async def test_answers_without_a_file(make: MakeApp, paths: Paths) -> None:
    """A first lathe that was only begun is listed, and can be taken away again."""
    async with set_up(make) as pilot:
        await chapter(pilot, "Saddle", "1", "1", "=7", "enter")
        await keys(pilot, "l")
        assert "no file yet, answers wait" in painted(pilot.app)
        await keys(pilot, "u")
        assert "is no file yet" in painted(pilot.app)
        await keys(pilot, "d")
        await pilot.pause()
        await keys(pilot, "2")
        await pilot.pause()
        assert "No lathe is kept yet" in painted(pilot.app)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SetupScreen)
        assert "Saddle              not told" in painted(pilot.app)
    assert on_disk(paths.config) == {}


async def test_the_lathe_of_the_open_job_stays(make: MakeApp, paths: Paths, two_lathes: Path, tmp_path: Path) -> None:
    """And so does the one that --lathe names."""
    job = tmp_path / "job.toml"
    job.write_text(
        f'format = 1\ntitle = "Arbor"\nlathe = "{two_lathes}"\n'
        '[[operation]]\nkind = "check"\nname = "Deburr"\ntext = "Every edge."\n'
    )
    for more, said in (({"job": job}, "of the open job"), ({"lathe": two_lathes}, "the program was started with")):
        async with set_up(make, **more) as pilot:
            await keys(pilot, "l", "end", "d")
            app = pilot.app
            assert isinstance(app, HalfnutApp) and isinstance(app.screen, LathesScreen)
            assert said in " ".join(painted(app).split())
        assert two_lathes.exists()
