"""What set-up asks: of three dials, whose words differ, and of every part of a lathe."""

from collections.abc import Iterator

from core.lathe.set_up.chapters import chapters_of
from tests.core.wording.said import Said, said

DIALS = ("cross_slide", "boring_head", "own_slide")


def page() -> Iterator[Said]:
    """Return each question by its chapter and key, with how to find out, the answers to choose from, an example."""
    for chapter in chapters_of({"dial": {"own_slide": {}}}):
        if not chapter.dial or chapter.dial in DIALS:
            for question in chapter.questions:
                options = (" = ".join(text for text in (one.words, one.short) if text) for one in question.options)
                rest = [text for text in (question.label, question.example) if text]
                yield said(f"{chapter.title}, {question.key}", question.asked, *question.how, *options, *rest)
