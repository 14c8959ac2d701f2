"""Nearly correct texts and files: each reader reads or refuses them in a sentence, within a second.

The long trial is tests.trials.fuzz.
"""

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from core.jobs.job import parse_job, read_job
from core.plan import MOST_STEPS
from core.values.errors import FileError
from core.values.plain_text import clean
from tests.trials.texts import NASTY, TARGETS, check

EXAMPLES = {"job": 40, "lathe": 60}


@pytest.mark.parametrize("name", TARGETS)
def test_every_random_text_is_either_read_or_refused_with_a_sentence(name: str) -> None:
    """No text causes a traceback or takes a second, and no message has a control character."""
    target = TARGETS[name]

    @settings(
        max_examples=EXAMPLES.get(name, 60),
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    @given(target.texts)
    def reads(text: str) -> None:
        check(target, text)

    reads()


@pytest.mark.parametrize("name", ["quantity", "designation", "expression"])
def test_every_harmful_text_is_either_read_or_refused_with_a_sentence(name: str) -> None:
    """The texts have escape sequences, markup, powers of powers, numbers of 400 digits, or very long names."""
    for text in NASTY:
        check(TARGETS[name], text)


def test_a_small_job_file_that_asks_for_very_many_steps_is_refused_quickly() -> None:
    """One operation may have many steps, but a thousand such operations would take minutes."""
    cut = 'kind = "turn"\nfrom = "200 mm"\nto = "10 mm"\ncut = "0.02 mm"\nfinish = "0.02 mm"\n'
    operations = "".join(f'[[operation]]\nname = "{number}"\n{cut}' for number in range(1_000))
    text = f'format = 1\ntitle = "Pin"\n{operations}'
    with pytest.raises(FileError, match=rf"\b{MOST_STEPS}\b"):
        parse_job(text, Path("pin.toml"))


def test_unicode_spaces_of_any_width_are_read_as_ordinary_spaces() -> None:
    """A no-break or ideographic space in a name must not shift a column of the screen."""
    assert clean("M10\N{NO-BREAK SPACE}\N{IDEOGRAPHIC SPACE}x\N{EM SPACE}") == "M10  x "


def test_the_users_own_lathe_file_is_reported_if_the_file_cannot_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The settings folder belongs to another user. A message names the file."""
    own, job = tmp_path / "closed" / "lathe.toml", tmp_path / "pin.toml"
    job.write_text('format = 1\ntitle = "Pin"\n' + '[[operation]]\nkind = "by_hand"\nname = "x"\ntext = "y"\n')
    before = Path.stat

    def closed(path: Path, **more: bool) -> object:
        if path == own:
            raise PermissionError(13, "Permission denied")
        return before(path, **more)

    monkeypatch.setattr(Path, "stat", closed)
    with pytest.raises(FileError) as refused:
        read_job(job, own_lathe=own)
    assert json.dumps(str(own))[1:-1] in str(refused.value)
