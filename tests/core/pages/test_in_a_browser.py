"""Drawing and page in a real browser, measured on its screenshot. Skipped if no browser is installed.

A CSS inch is 96 pixels (CSS Values and Units 3, W3C, 5.2), so that 50 mm are 188.98 pixels.
"""

import os
import shutil
import struct
import subprocess
import zlib
from pathlib import Path

import numpy as np
import pytest

from core.jobs.job import read_job
from core.pages.html_page import card_html
from core.pages.pattern_svg import job_drawing

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
PIXELS_A_MM, ENLARGED = 96 / 25.4, 1
LAND, WIDTH, HEIGHT = (0xF2, 0xEF, 0xE6), 760, 1900
NEAR_MM = 0.8
"""The allowed error [mm]: three pixels, for the outline of the blank and its soft edges, or 1 % of the measured size.
"""

pytestmark = pytest.mark.skipif(BROWSER is None, reason="no browser is installed")


def screenshot(folder: Path, name: str, content: str) -> np.ndarray:
    """Return the browser's picture of a file, as rows of pixels (red, green, blue)."""
    file, picture = folder / name, folder / "shown.png"
    file.write_text(content, encoding="utf-8")
    assert BROWSER is not None
    subprocess.run(
        [
            *(BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"),
            *(f"--user-data-dir={folder / 'profile'}", f"--force-device-scale-factor={ENLARGED}"),
            *(f"--window-size={WIDTH},{HEIGHT}", f"--screenshot={picture}", file.as_uri()),
        ],
        env={**os.environ, "HOME": str(folder)},
        capture_output=True,
        timeout=120,
        check=True,
    )
    return pixels(picture.read_bytes())


def pixels(png: bytes) -> np.ndarray:
    """Return the pixels of a PNG of 8 bits a channel, not interlaced (PNG, second edition, W3C, 7 and 9)."""
    width, height, depth, colours = struct.unpack(">IIBB", png[16:26])
    assert depth == 8 and colours in {2, 6}
    channels, at, packed = {2: 3, 6: 4}[colours], 8, b""
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        packed += png[at + 8 : at + 8 + length] if png[at + 4 : at + 8] == b"IDAT" else b""
        at += length + 12
    lines = np.frombuffer(zlib.decompress(packed), np.uint8).reshape(height, 1 + width * channels)
    before, rows = np.zeros((width, channels), int), []
    for line in lines:
        before = unfiltered(line[0], line[1:].reshape(width, channels).astype(int), before)
        rows.append(before)
    return np.array(rows)[:, :, :3]


def unfiltered(kind: int, line: np.ndarray, above: np.ndarray) -> np.ndarray:
    """Return a row of a PNG without its filter: 0 none, 1 left, 2 up, 3 average, 4 Paeth."""
    if kind == 0:
        return line
    if kind == 1:
        return np.cumsum(line, axis=0) % 256
    if kind == 2:
        return (line + above) % 256
    found, left, corner = np.empty_like(line), np.zeros(line.shape[1], int), np.zeros(line.shape[1], int)
    for at, (value, up) in enumerate(zip(line, above, strict=True)):
        guess = (left + up) // 2 if kind == 3 else paeth(left, up, corner)
        found[at] = left = (value + guess) % 256
        corner = up
    return found


def paeth(left: np.ndarray, up: np.ndarray, corner: np.ndarray) -> np.ndarray:
    """Return Paeth's prediction from three neighbours."""
    start = left + up - corner
    far = np.abs(start - left), np.abs(start - up), np.abs(start - corner)
    return np.where((far[0] <= far[1]) & (far[0] <= far[2]), left, np.where(far[1] <= far[2], up, corner))


def land_mm(shown: np.ndarray) -> tuple[float, float]:
    """Return width and height of the area with the colour of land [mm]."""
    rows, columns = np.nonzero(np.all(np.abs(shown - np.array(LAND)) <= 2, axis=2))
    scale = PIXELS_A_MM * ENLARGED
    return (np.ptp(columns) + 1) / scale, (np.ptp(rows) + 1) / scale


def bar_mm(shown: np.ndarray) -> float:
    """Return the length of the longest level dark line below the land, which is the scale bar [mm]."""
    rows, _ = np.nonzero(np.all(np.abs(shown - np.array(LAND)) <= 2, axis=2))
    below = shown[rows.max() + 5 : rows.max() + 20 * round(PIXELS_A_MM * ENLARGED)].sum(axis=2) < 600
    longest = 0
    for row in below:
        edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(int), [0]))))
        longest = max([longest, *(edges[1::2] - edges[::2])])
    return longest / (PIXELS_A_MM * ENLARGED)


@pytest.mark.parametrize("kind", ["svg", "html"])
def test_a_browser_shows_a_pattern_at_its_true_size(tmp_path: Path, kind: str) -> None:
    """The blank of 80 mm is 80 mm wide and high, less its outline. The scale bar is 50 mm."""
    job = read_job(SAMPLES / "sundial_lid.toml")
    content = job_drawing(job, None).svg if kind == "svg" else card_html(job)
    shown = screenshot(tmp_path, f"lid.{kind}", content)
    assert land_mm(shown) == pytest.approx((80.0, 80.0), abs=NEAR_MM)
    assert bar_mm(shown) == pytest.approx(50.0, abs=NEAR_MM)
