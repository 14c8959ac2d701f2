"""The one file that holds the program and its packages. A small program takes the place of the real one here."""

import importlib.util
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from types import ModuleType

import platformdirs
import pytest

PARTS = Path(__file__).parents[1] / ".ci" / "one_file"


def _module(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"one_file_{name}", PARTS / f"{name}.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def packages(tmp_path: Path) -> Path:
    """A folder of installed packages: a program that prints its arguments and a data file that it reads by path."""
    folder = tmp_path / "packages"
    (folder / "tui").mkdir(parents=True)
    shutil.copytree(Path(platformdirs.__file__).parent, folder / "platformdirs")
    (folder / "tui" / "__init__.py").write_text("")
    (folder / "tui" / "words.txt").write_text("read by path")
    (folder / "tui" / "__main__.py").write_text(
        "import sys\nfrom pathlib import Path\n"
        "def main():\n"
        "    print(*sys.argv[1:], Path(__file__).with_name('words.txt').read_text())\n"
        "    return 3\n"
    )
    return folder


def _start(archive: Path, home: Path, *words: str) -> "subprocess.CompletedProcess[str]":
    environment = {"HOME": str(home), "PATH": os.environ["PATH"], "LOCALAPPDATA": str(home)}
    command = [sys.executable, "-I", "-S", str(archive), *words]
    return subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60)


def _unpacked(home: Path) -> list[Path]:
    return sorted(path for path in home.rglob("*program-*") if path.is_dir())


def test_two_builds_from_the_same_packages_are_identical_byte_for_byte(tmp_path: Path, packages: Path) -> None:
    build = _module("build").build
    build(packages, tmp_path / "first.pyz")
    copy = shutil.copytree(packages, tmp_path / "copy")
    os.utime(copy / "tui" / "words.txt", (0, 0))
    build(copy, tmp_path / "second.pyz")
    assert (tmp_path / "first.pyz").read_bytes() == (tmp_path / "second.pyz").read_bytes()


def test_building_from_a_package_with_a_compiled_extension_is_refused(tmp_path: Path, packages: Path) -> None:
    (packages / "tui" / "quick.so").write_bytes(b"")
    with pytest.raises(ValueError, match=r"tui/quick\.so"):
        _module("build").build(packages, tmp_path / "halfnut.pyz")


def test_the_one_file_program_unpacks_its_packages_only_once(tmp_path: Path, packages: Path) -> None:
    archive, home = tmp_path / "stick" / "halfnut.pyz", tmp_path / "home"
    archive.parent.mkdir()
    _module("build").build(packages, archive)
    first = _start(archive, home, "card", "lid.toml")
    assert (first.stdout, first.stderr, first.returncode) == ("card lid.toml read by path\n", "", 3)
    (folder,) = _unpacked(home)
    (folder / "tui" / "words.txt").write_text("not unpacked again")
    assert _start(archive, home).stdout == "not unpacked again\n"


def test_an_interrupted_unpacking_does_not_prevent_the_next_start(tmp_path: Path, packages: Path) -> None:
    archive, home = tmp_path / "halfnut.pyz", tmp_path / "home"
    _module("build").build(packages, archive)
    _start(archive, home)
    (folder,) = _unpacked(home)
    shutil.rmtree(folder / "tui")
    folder.rename(folder.with_name(".program-cut-off"))
    assert _start(archive, home).returncode == 3


def test_unpacking_a_new_version_deletes_a_version_unused_for_a_month(tmp_path: Path, packages: Path) -> None:
    archive, home = tmp_path / "halfnut.pyz", tmp_path / "home"
    _module("build").build(packages, archive)
    _start(archive, home)
    (old,) = _unpacked(home)
    recent = old.with_name("program-recent")
    recent.mkdir()
    os.utime(old, (0, 0))
    (packages / "tui" / "words.txt").write_text("newer")
    _module("build").build(packages, archive)
    assert _start(archive, home).stdout == "newer\n"
    assert not old.exists()
    assert recent.exists()


def test_the_program_starts_even_if_the_path_of_its_cache_is_a_file(tmp_path: Path, packages: Path) -> None:
    archive = tmp_path / "halfnut.pyz"
    _module("build").build(packages, archive)
    home = tmp_path / "home"
    home.write_text("a file")
    assert _start(archive, home).stdout == "read by path\n"


def test_a_damaged_program_file_is_refused_with_a_sentence(tmp_path: Path, packages: Path) -> None:
    archive = tmp_path / "halfnut.pyz"
    _module("build").build(packages, archive)
    with zipfile.ZipFile(archive) as whole:
        offset = whole.getinfo("packages/tui/words.txt").header_offset + 50
    content = bytearray(archive.read_bytes())
    content[offset : offset + 8] = bytes(8)
    archive.write_bytes(content)
    ended = _start(archive, tmp_path / "home")
    assert ended.returncode == 1
    assert ended.stderr == "halfnut: halfnut.pyz is damaged. Copy the file again.\n"
    assert not _unpacked(tmp_path / "home")
