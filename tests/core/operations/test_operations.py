"""The registry of operations loads only the modules that a job uses."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]
JOB = 'format = 1\ntitle = "One"\n[[operation]]\nkind = "by_hand"\nname = "Deburr"\ntext = "Deburr it"\n'


def test_a_card_imports_only_the_kinds_of_its_job(tmp_path: Path) -> None:
    """A job of one step by hand loads neither threads nor dividing, no screens and no pint."""
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    program = (
        f"import sys; from tui.__main__ import main; status = main(['card', {str(job)!r}]);"
        "print(status, sorted({name.partition('.')[0] for name in sys.modules} & {'textual', 'pint', 'rich'}));"
        "rooms = tuple(f'core.operations.{room}' for room in ('threads', 'dividing', 'patterns'));"
        "print([name for name in sys.modules if name.startswith(rooms)])"
    )
    found = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "Deburr it" in found.stdout
    assert found.stdout.splitlines()[-2:] == ["0 []", "[]"]
