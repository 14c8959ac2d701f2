"""Golden cards: no figure, setting or refusal of any job changes by accident.

They prove nothing else; see tests.golden.
"""

from pathlib import Path
from typing import Any

import pytest

from core.jobs.card import card_data
from core.jobs.job import read_job
from core.lathe.reader import read_lathe
from core.operations.registry import OPERATIONS
from core.values.errors import FileError
from tests.golden.card_lines import card_lines, golden_lines
from tests.golden.keeping import COMMAND, JOBS, SAMPLES, changes, differences, kept_lines, kept_names, sources

MOST_SHOWN = 60
AGAIN = f"If every one of them is meant, write the golden cards again: {COMMAND}"


@pytest.fixture
def card() -> dict[str, Any]:
    """Return the card of a sample job with turning, threading, facing and runout."""
    return card_data(read_job(SAMPLES / "sundial_arbor.toml"))


@pytest.mark.parametrize(("name", "path"), sources().items(), ids=sources())
def test_each_card_has_the_same_numbers_as_its_saved_golden_card(name: str, path: Path) -> None:
    """A failure shows the rows that differ: saved rows with "-", present rows with "+"."""
    found = changes(name, path)
    if found:
        more = [f"... and {len(found) - MOST_SHOWN} more"] if len(found) > MOST_SHOWN else []
        lines = [f"{name}: {len(found)} lines differ from the golden card", *found[:MOST_SHOWN], *more, AGAIN]
        pytest.fail("\n".join(lines), pytrace=False)


def test_jobs_and_golden_cards_correspond_one_to_one() -> None:
    """A job that was added, renamed or removed makes this test fail."""
    names = set(sources())
    without, left = sorted(names - kept_names()), sorted(kept_names() - names)
    assert (without, left) == ([], []), f"jobs without a card {without}, cards without a job {left}. {AGAIN}"


def test_every_kind_of_operation_has_a_golden_card() -> None:
    """A new kind needs a job in tests/golden/jobs, unless a sample has the kind."""
    kinds = {line.partition(" kind = ")[2] for name in kept_names() for line in kept_lines(name) if " kind = " in line}
    assert kinds == set(OPERATIONS)


def test_the_refused_golden_jobs_are_exactly_those_with_refused_in_their_file_name() -> None:
    """A job that the program newly refuses does not silently become a card of refusals."""
    refused = {name for name in kept_names() if any(" refused: " in f" {line}" for line in kept_lines(name))}
    assert refused == {name for name in sources() if "refused" in name}


@pytest.mark.parametrize("path", sorted(JOBS.glob("*refused*.toml")), ids=lambda path: path.stem)
def test_each_error_of_a_refused_golden_job_has_its_own_row_on_the_golden_card(path: Path) -> None:
    """The program refuses the file for exactly the saved keys."""
    with pytest.raises(FileError) as refusal:
        (read_lathe if path.stem.startswith("lathe") else read_job)(path)
    assert len(golden_lines(path)) == len(refusal.value.every)


def test_a_changed_figure_changes_one_row_of_the_golden_card(card: dict[str, Any]) -> None:
    """The difference is one saved row and one new row."""
    before = card_lines(card)
    card["operations"][2]["figures"]["depth_mm"] += 0.000001
    found = differences(before, card_lines(card))
    assert [line.partition(" = ")[0] for line in found] == ["-3 depth_mm", "+3 depth_mm"]


def test_a_changed_setting_changes_one_row_of_the_golden_card(card: dict[str, Any]) -> None:
    """Only the row of its step changes."""
    before = card_lines(card)
    step = next(step for step in card["operations"][2]["steps"] if step["action"] == "cut")
    step["settings"][0]["reading"] += 0.02
    assert len(differences(before, card_lines(card))) == 2


def test_an_added_step_adds_one_row_to_the_golden_card(card: dict[str, Any]) -> None:
    """The rows of later steps do not change."""
    before = card_lines(card)
    steps = card["operations"][0]["steps"]
    steps.insert(1, {**steps[1], "depth_mm": 0.01})
    assert len(differences(before, card_lines(card))) == 1


def test_a_changed_sentence_changes_no_row_of_the_golden_card(card: dict[str, Any]) -> None:
    """Titles, names, sentences and cautions are not saved."""
    before = card_lines(card)
    card["title"] = card["lathe"] = "Something else"
    for operation in card["operations"]:
        operation["name"], operation["cautions"] = "Another name", ["One caution."]
        for step in operation["steps"]:
            step["text"], step["cautions"] = "Other words", ["One caution."]
    assert card_lines(card) == before


def test_writing_a_text_under_an_unknown_key_to_a_golden_card_is_refused(card: dict[str, Any]) -> None:
    """A person must decide whether the text is wording."""
    card["operations"][0]["figures"]["advice"] = "Turn slowly."
    with pytest.raises(ValueError, match="advice"):
        card_lines(card)
