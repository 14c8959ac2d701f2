"""Reads published tables from the CSV files in this folder. Each row names its source."""

import csv
from functools import cache
from pathlib import Path


@cache
def read_table(name: str) -> list[dict[str, str]]:
    """Return the rows of the published table called `name`, such as "metric_series". Each file is read only once.

    Lines that begin with "# " are remarks and are not read.

    >>> read_table("ba_series")[4]["pitch_mm"]
    '0.66'
    """
    lines = Path(__file__).with_name(f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("# ")))
