"""The card as a page: no row too wide, nothing lost, a box for each step, the unit of each dial."""

import math
import re
from pathlib import Path

import pytest

from core.jobs.job import Job, parse_job, read_job
from core.operations.pass_words import amount_words, on_the_radius
from core.pages.card_page import BOX, card_markdown, card_text
from tests.core.figures import figures

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
PATTERNS = ["hour_lines", "sundial_lid", "sundial_base", "gnomon_plate"]
"""Jobs whose tables of layers may be printed in several parts."""
JOBS = ["sundial_arbor", "gnomon_screw", "engraving_fixture", *PATTERNS]


def sample(name: str) -> Job:
    """Return a sample job."""
    return read_job(SAMPLES / f"{name}.toml")


def words(text: str) -> list[str]:
    """Return the words of a page in order, without the rules below its headings."""
    return " ".join(line for line in text.splitlines() if line.strip("-")).split()


@pytest.mark.parametrize("name", JOBS)
@pytest.mark.parametrize("columns", [40, 60, 80, 132])
def test_a_wrapped_card_loses_no_word(name: str, columns: int) -> None:
    """A narrow page has the same words as a wide page. Tables may be in several parts."""
    its_job = sample(name)
    text, wide = card_text(its_job, columns), card_text(its_job, 2000)
    assert max(map(len, text.splitlines())) <= columns
    if name in PATTERNS:
        assert set(words(text)) == set(words(wide))
    else:
        assert words(text) == words(wide)
    # No row ends between a number and its unit.
    assert not re.search(r"\d\n +(mm|in|deg|rpm|tpi)\b", text)


@pytest.mark.parametrize("name", JOBS)
def test_every_step_and_every_change_of_set_up_on_a_card_has_a_box_to_tick(name: str) -> None:
    """The boxes can be ticked with a pencil, in Markdown too. Measurements have a blank to fill in."""
    its_job = sample(name)
    steps = [step for operation in its_job.operations for step in operation.plan.steps]
    text, markdown = card_text(its_job), card_markdown(its_job)
    changes = text.count(f"  {BOX} ") - len(re.findall(r"^  \[ \] +\d+  ", text, re.MULTILINE))
    assert len(re.findall(r"^  \[ \] +\d+  ", text, re.MULTILINE)) == len(steps)
    assert changes >= len(its_job.operations) - 1
    assert markdown.count(f"| {BOX} |") == len(steps) and markdown.count(f"- {BOX} ") == changes
    measured = sum(step.action == "measure" for step in steps)
    assert text.count("Measured: ____") == markdown.count("Measured: ____") == measured > 0


def test_the_second_row_of_a_wrapped_step_is_indented() -> None:
    """Only numbers and boxes are at the left edge."""
    lines = card_text(sample("gnomon_screw"), 60).splitlines()
    head = next(line for line in lines if "  1  Swing" in line)
    hang = head.index("Swing")
    below = lines[lines.index(head) + 1]
    assert below[:hang].isspace() and not below[hang].isspace()


def test_the_text_card_never_refers_to_the_json_card() -> None:
    """The text card lists all trains of change gears, as the JSON card does."""
    for name in JOBS:
        its_job = sample(name)
        text = card_text(its_job)
        assert "JSON" not in text and "json" not in text
        trains = sum(len(one.plan.figures.get("change_gears", ())) for one in its_job.operations)
        assert len(re.findall(r"^  change gears \d+ ", text, re.MULTILINE)) == trains


def test_passes_on_a_card_are_given_in_the_unit_of_the_dial_that_sets_their_depth() -> None:
    """The lathe has a compound in thou and a metric cross-slide.

    By hand: the compound's screw of 1 mm is marked 40 thou, so 11 thou are 0.275 mm of slide. At 29 degrees off square
    this is 0.275 cos 29 = 0.24052 mm of radius, or 9.5 thou. The spigot is turned in millimetres.
    """
    turn, thread = (sample("engraving_fixture").operations[number] for number in (0, 1))
    lathe = thread.plan_input.lathe
    first = next(step for step in thread.plan.steps if step.action == "cut")
    deep_in = 11 / 40 * math.cos(math.radians(29)) / 25.4
    assert f"takes {deep_in:.4f} in off;" in amount_words(first, lathe)
    assert first.settings[0].unit == "in"  # type: ignore[union-attr]
    first = next(step for step in turn.plan.steps if step.action == "cut")
    # The numbers fall: 2 turns of 2 mm, 1.72 is 0.28 mm in.
    assert amount_words(first, lathe) == "takes 0.28 mm off; 0.46 mm to go"


def test_a_spring_pass_on_a_card_shows_no_depth() -> None:
    """ "Takes 0 mm" would sound as if the user could skip the pass."""
    text = card_text(sample("sundial_arbor"))
    assert "takes 0 mm" not in text and "takes 0.0000 in" not in text
    assert text.count("sprang away") == 3


def test_the_card_of_a_turned_groove_shows_its_depth_on_the_radius() -> None:
    """1 in to 0.92 in is 40 thou of radius. A face counts the metal that comes off."""
    groove = sample("gnomon_screw").operations[3]
    cuts = [step for step in groove.plan.steps if step.action == "cut"]
    assert sum(step.removed_mm or 0.0 for step in cuts) == pytest.approx((1 - 0.92) / 2 * 25.4)
    assert all(on_the_radius("groove", step) for step in cuts)
    face = sample("sundial_arbor").operations[3]
    assert not any(on_the_radius("face", step) for step in face.plan.steps)


def test_a_card_has_a_blank_for_the_reading_of_a_dial_that_cannot_be_zeroed() -> None:
    """The card says to add the reading, and when the sum is one turn further."""
    notes = [line for line in card_text(sample("engraving_fixture"), 400).splitlines() if "Shows: ____" in line]
    assert len(notes) == 1 and "compound" in notes[0]
    assert figures(notes[0]) == {"0", "0.040"}
    assert "Shows:" not in card_text(sample("gnomon_screw"))


def test_a_card_lists_the_layers_of_a_pattern_side_by_side() -> None:
    """Offset 34 mm and 30 circles that touch: a radius of 34 sin(6 deg) = 3.554 mm, next to the entered 3.2 mm."""
    radius = f"{34 * math.sin(math.radians(6)):.3f}"
    for columns, abreast in ((80, 2), (40, 1)):
        lines = [line for line in card_text(sample("hour_lines"), columns).splitlines() if "circle radius" in line]
        assert [len(re.findall(r"\d mm", line)) for line in lines] == [abreast] * (2 // abreast)
        assert figures(" ".join(lines)) == {radius, "3.2"}


def test_markdown_characters_in_a_users_text_break_no_table_of_the_card() -> None:
    """A vertical bar in a user's text is escaped."""
    text = 'format = 1\ntitle = "x"\n[[operation]]\nkind = "by_hand"\nname = "a"\ntext = "Chamfer | deburr"\n'
    row = next(line for line in card_markdown(parse_job(text, Path("x.toml"))).splitlines() if "Chamfer" in line)
    assert len(re.findall(r"(?<!\\)\|", row)) == 5
