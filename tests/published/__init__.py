"""Values as printed in standards, handbooks and charts. Each row names its source, or says "from memory".

Columns of the files that `printed_rows` reads: quantity, inputs (JSON), printed, tolerance, source. The tolerance is
half of the last printed digit unless the source is rounded more.
"""

import csv
import json
from pathlib import Path
from typing import Any, NamedTuple


class Printed(NamedTuple):
    """One printed value with its inputs, its tolerance and its source."""

    quantity: str
    inputs: dict[str, Any]
    printed: str
    tolerance: float
    source: str

    @property
    def from_memory(self) -> bool:
        """True if nobody has compared the value with its published source."""
        return "from memory" in self.source


def printed_rows(name: str, folder: Path = Path(__file__).parent) -> list[Printed]:
    """Return the rows of a CSV file, by default from this folder. A line that starts with "# " is a remark."""
    text = (folder / f"{name}.csv").read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("# "))
    return [
        Printed(
            quantity=row["quantity"],
            inputs=json.loads(row["inputs"]),
            printed=row["printed"],
            tolerance=float(row["tolerance"] or 0),
            source=row["source"],
        )
        for row in csv.DictReader(lines)
    ]


def none_wrong(lines: list[str]) -> None:
    """Fail with one line for each wrong row. A plain comparison would show only the first few rows."""
    assert not lines, "\n" + "\n".join(lines)
