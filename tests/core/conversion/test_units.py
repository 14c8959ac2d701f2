"""Units that only pint knows, and the file that keeps them, which may be damaged or unwritable."""

import json
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from zlib import crc32

import pytest

from core.conversion.unit_lookup import CACHE_FILE, pint_unit, unit_value

# Exact by definition: international pound, standard gravity, inch (NIST SP 811, appendix B).
LBF = Fraction("0.45359237") * Fraction("9.80665") * 1000
POUND = Fraction("0.45359237")
RARE = "microyard"
"""A unit that only pint knows: a yard is exactly 0.9144 m (NIST SP 811, appendix B)."""
RARE_MM = Fraction("914.4") / 10**6


def test_the_pound_and_the_pound_force_equal_their_exact_definitions(tmp_path: Path) -> None:
    """Both units equal the fractions by which they are defined."""
    for folder in (None, tmp_path):
        assert unit_value("lbf", folder).number == LBF
        assert unit_value("lb", folder).number == POUND


def test_a_unit_looked_up_at_an_earlier_start_is_known_without_loading_pint(tmp_path: Path) -> None:
    """The next start reads from its folder a unit that pint looked up before."""
    program = (
        "import sys\n"
        "from pathlib import Path\n"
        "from core.conversion.convert import convert\n"
        "print(convert('3000 microyard', None, Path(sys.argv[1])).figures['mm'], 'pint' in sys.modules)"
    )
    first, second = (
        subprocess.run(
            [sys.executable, "-c", program, str(tmp_path / "new" / "folder")],
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()
        for _ in range(2)
    )
    assert (first[1], second[1]) == ("True", "False")
    assert first[0] == second[0]
    assert float(first[0]) == pytest.approx(float(3000 * RARE_MM), abs=1e-6)


def test_a_damaged_unit_cache_is_ignored(tmp_path: Path) -> None:
    """A file that is cut short or has any byte changed never gives a wrong unit."""
    unit_value(RARE, tmp_path)
    whole = (tmp_path / CACHE_FILE).read_bytes()
    damaged = [whole[:length] for length in range(len(whole))]
    damaged += [whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :] for at in range(len(whole))]
    damaged += [b"\xff\xfe\x00", b"[]", b"null", b'{"units": []}', b'{"check": 0, "units": {}}', b"[" * 100_000]
    right = unit_value(RARE)
    for number, content in enumerate(damaged):
        # Units from a folder are kept in memory, so each damaged file has a folder of its own.
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / CACHE_FILE).write_bytes(content)
        assert pint_unit(RARE, folder) == right, content[:40]


def test_a_unit_cache_with_invalid_contents_and_a_valid_checksum_is_ignored(tmp_path: Path) -> None:
    """A file that someone else made cannot change an answer."""
    units = {RARE: ["1/0", [1, 0, 0, 0, 0, 0, 0, 0]]}
    content = {"check": crc32(json.dumps(units, sort_keys=True).encode()), "units": units}
    (tmp_path / CACHE_FILE).write_text(json.dumps(content))
    assert unit_value(RARE, tmp_path).number == RARE_MM


def test_an_unwritable_cache_folder_does_not_change_the_value_of_a_unit(tmp_path: Path) -> None:
    """If the folder cannot be created, or the file is a folder, pint is used all the same."""
    (tmp_path / "file").write_text("in the way")
    assert unit_value(RARE, tmp_path / "file" / "cache").number == RARE_MM
    (tmp_path / "cache" / CACHE_FILE).mkdir(parents=True)
    assert unit_value(RARE, tmp_path / "cache").number == RARE_MM


def test_rejected_unit_names_are_not_cached(tmp_path: Path) -> None:
    """The file of units does not contain them."""
    for name in ("frob", "kin", "PS", "dB", "degF", "nan", "pixel", "c", "__init__"):
        assert pint_unit(name, tmp_path) is None
    assert not (tmp_path / CACHE_FILE).exists()


@pytest.mark.parametrize(
    ("name", "number"),
    [("microinch", Fraction(254, 10**7)), ("yd", Fraction("914.4")), ("kN", Fraction(10**6)), ("turn", Fraction(360)),
     ("mm", Fraction(1)), ("µm", Fraction(1, 1000)), ("μm", Fraction(1, 1000)), ("degrees", Fraction(1))],
)  # fmt: skip
def test_full_and_short_unit_names_give_the_exact_value_of_the_unit(name: str, number: Fraction) -> None:
    """Micro with either letter is included."""
    assert unit_value(name).number == number
