"""What the command line prints: the card of a job, and the log."""

import json
from pathlib import Path

from core.card import card_data, card_text
from core.jobs import read_job


def print_card(job: Path, lathe: Path | None, own_lathe: Path | None, form: str) -> None:
    """Print the card of a job as "text", "markdown" or "json"; raises FileError."""
    found = read_job(job, lathe, own_lathe)
    if form == "json":
        print(json.dumps(card_data(found), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        print(card_text(found, markdown=form == "markdown"), end="")
