"""What is answered to a question, and why a question is refused."""

from collections.abc import Iterator

from core.conversion.answers import text_lines
from core.conversion.convert import EXAMPLE_ROWS, convert
from core.lathe.dial_face import show_reading
from core.lathe.reader import example_lathe
from tests.core.conversion import test_answers, test_expression, test_readings
from tests.core.wording.said import Said, refusal, said

ASKED = ("1500 rpm at 30 mm", "20 rpm", "29.5 deg", "1:20")


def page() -> Iterator[Said]:
    """Return questions with their answers, then questions that are refused."""
    lathe = example_lathe()
    for row in EXAMPLE_ROWS:
        for asked in row.words.replace("29,80", "29.80").split(", "):
            yield said(asked, *text_lines(convert(asked, lathe)))
    for its in (test_answers.MIXED, test_readings.FALLING):
        for asked in ASKED:
            yield said(f"{its.name}: {asked}", *text_lines(convert(asked, its)))
    for dial, shown in (("compound", "0.42"), ("cross_slide", "5.03 mm")):
        yield said(f"{dial} shows {shown}", *show_reading(lathe.dials[dial], shown))
    for asked in test_expression.REFUSED:
        yield said(f"refused: {asked}", *refusal(convert, asked, None))
