"""Thread designations as people write them: accepted spellings, and refusals without any guess."""

import dataclasses
import unicodedata
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.operations.threads.designation import read_thread, standard_threads_with_pitch
from core.operations.threads.job import blank_default_mm
from core.operations.threads.thread import Thread
from core.values.errors import ThreadError


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("M30x3.5-6g", "M30x3.5-6g"),
        ("M10", "M10x1.5-6g"),
        ("M30x3.5-6H", "M30x3.5-6H"),
        ("M16-4g6g", "M16x2-4g6g"),
        ("M16 4g 6g", "M16x2-4g6g"),
        ("M20x2-LH", "M20x2-6g-LH"),
        ("M20x2-LH-6h", "M20x2-6h-LH"),
        ("M20x2LH", "M20x2-6g-LH"),
        ("M24xPh6P3", "M24xPh6P3-6g"),
        ("m 10 X 1,25 - 6H", "M10x1.25-6H"),
        ("M10×1.25–6g", "M10x1.25-6g"),
        ("  M10  ", "M10x1.5-6g"),
        ("1 1/4-8 UN-2A", "1 1/4-8 UN-2A"),
        ("1-1/4-8 UN-2A", "1 1/4-8 UN-2A"),
        ("1.25 - 8 un 2a", "1 1/4-8 UN-2A"),
        ("1/4-20 UNC-2B", "1/4-20 UNC-2B"),
        ("1/4-20UNC2B", "1/4-20 UNC-2B"),
        ("1/4 20 UNC", "1/4-20 UNC-2A"),
        ("1/4 UNC", "1/4-20 UNC-2A"),
        ("UNC 1/4-20", "1/4-20 UNC-2A"),
        ("#10-32 UNF", "#10-32 UNF-2A"),
        ("10-32 UNF", "#10-32 UNF-2A"),
        ("No. 10-32 UNF", "#10-32 UNF-2A"),
        ("0.190-32 UNF", "#10-32 UNF-2A"),
        ("2-4 1/2 UNC-2A", "2-4 1/2 UNC-2A"),
        ("2-4.5 UNC", "2-4 1/2 UNC-2A"),
        ("2-56 UNC", "#2-56 UNC-2A"),
        ("1-14 UNS-2A", "1-14 UNS-2A"),
        ("10.0-36 UNS", "10.0-36 UNS-2A"),
        ("1 1/2-8 8-UN-2B", "1 1/2-8 UN-2B"),
        ("1 1/2 8-UN", "1 1/2-8 UN-2A"),
        ("1/4-20 UNC-2A-LH", "1/4-20 UNC-2A-LH"),
        ("1/2 BSW", "1/2-12 BSW medium"),
        ("1/2-12 BSW medium", "1/2-12 BSW medium"),
        ("1/2 bsw Close", "1/2-12 BSW close"),
        ("BSW 1/2", "1/2-12 BSW medium"),
        ("1/2-12 Whit", "1/2-12 Whit medium"),
        ("0.3-24 Whitworth free", "0.3-24 Whit free"),
        ("3/8 BSF free", "3/8-20 BSF free"),
        ("G1/2", "G1/2 A"),
        ("G1/2 A", "G1/2 A"),
        ("g 1 1/4 b", "G1 1/4 B"),
        ("BA 4", "BA 4 normal"),
        ("4 BA", "BA 4 normal"),
        ("4ba close", "BA 4 close"),
        ("Tr20x4-7e", "Tr20x4-7e"),
        ("tr 20 x 4", "Tr20x4-7e"),
        ("Tr20x4-7H", "Tr20x4-7H"),
        ("Tr40x14P7", "Tr40x14P7-7e"),
        ("Tr40x14(P7)LH", "Tr40x14P7-7e-LH"),
        ("Acme 3/4-6 2G", "3/4-6 Acme-2G"),
        ("3/4-6 Acme-2G", "3/4-6 Acme-2G"),
        ("3/4 acme", "3/4-6 Acme-2G"),
        ("3/4-0.1667P-0.3333L-ACME-3G", "3/4-0.1667P-0.3333L Acme-3G"),
    ],
)
def test_every_spelling_of_a_thread_gives_its_standard_designation(text: str, canonical: str) -> None:
    """The standard's designation then reads back as the same thread."""
    thread = read_thread(text)
    assert canonical == thread.designation
    assert thread == dataclasses.replace(read_thread(canonical), notes=thread.notes)


@pytest.mark.parametrize(
    ("text", "class_outside", "class_inside"),
    [
        ("M10", "6g", "6H"),
        ("1/4-20 UNC", "2A", "2B"),
        ("1/2 BSW", "medium", "medium"),
        ("G1/2", "A", ""),
        ("4 BA", "normal", ""),
        ("Tr20x4", "7e", "7H"),
        ("3/4-6 Acme", "2G", "2G"),
    ],
)
def test_a_bare_designation_is_read_as_an_external_thread_of_the_usual_class(
    text: str, class_outside: str, class_inside: str
) -> None:
    """Each side, outside and inside, has its usual class."""
    assert not read_thread(text).internal
    assert (class_outside, False) == (
        read_thread(text, side="outside").tolerance_class,
        read_thread(text, side="outside").internal,
    )
    assert (class_inside, True) == (
        read_thread(text, side="inside").tolerance_class,
        read_thread(text, side="inside").internal,
    )


@pytest.mark.parametrize(
    ("text", "starts", "pitch_mm", "lead_mm"),
    [
        ("M24xPh6P3", 2, 3.0, 6.0),
        ("Tr40x14P7", 2, 7.0, 14.0),
        ("2.875-0.4P-0.8L-ACME-3G", 2, 10.16, 20.32),
        ("3/4-0.0625P-0.1875L UNF", 3, 1.5875, 4.7625),
        ("M10", 1, 1.5, 1.5),
    ],
)
def test_the_lead_is_the_pitch_times_the_number_of_starts(
    text: str, starts: int, pitch_mm: float, lead_mm: float
) -> None:
    """The lead is the pitch times the starts (designations of ISO 965-1, ISO 2904, ASME B1.5)."""
    thread = read_thread(text)
    assert starts == thread.starts
    assert pitch_mm == pytest.approx(thread.pitch_mm)
    assert lead_mm == pytest.approx(thread.lead_mm)


@pytest.mark.parametrize(
    ("text", "side", "parts"),
    [
        ("M10-6g", "inside", ["outside", "6H"]),
        ("M10-6H", "outside", ["inside", "6g"]),
        ("1/4-20 UNC-2A", "inside", ["outside", "2B"]),
        ("G1/2 A", "inside", ["outside", "no class"]),
        ("4 BA close", "inside", ["outside", "no class"]),
        ("Tr20x4-7H", "outside", ["inside", "7e"]),
        ("1/2 BSW normal", "outside", ["inside", "medium"]),
    ],
)
def test_a_tolerance_class_that_contradicts_the_side_of_the_thread_is_refused(
    text: str, side: str, parts: list[str]
) -> None:
    """The refusal quotes the designation, names the side of the class and says what to enter."""
    _refused(text, [text, *parts], side=side)


REFUSED: list[tuple[str, list[str]]] = [
    ("", []),
    ("bolt", ["bolt", "M10"]),
    ("M", ["M10"]),
    ("M13", ["M12", "M14"]),
    ("M0", ["1 to 355"]),
    ("M-10", ["M10"]),
    ("M400x6", ["1 to 355"]),
    ("M99999999999999999999", ["1 to 355"]),
    ("M10x0", []),
    ("M10x9", []),
    ("M10-1.5", ["M10x1.5"]),
    ("M10-6q", ["e, f, g or h"]),
    ("M10-9H", ["4, 5, 6, 7 or 8"]),
    ("M10-5g", ["4, 6 or 8"]),
    ("M10-2g", ["3, 4, 5"]),
    ("M10-6g6H", []),
    ("M10-6H/6g", ["6H/6g"]),
    ("M24xPh6", []),
    ("M24xPh7P3", []),
    ("M24xPh60P3", ["1 to 12"]),
    ("1/4-20", ["1/4-20 UNC", "1/4-20 BSW"]),
    ("5/8-13", ["5/8-13 UNS"]),
    ("1/4-20 UNF", ["1/4-20 UNC"]),
    ("1/4-21 UNC", ["1/4-20 UNC"]),
    ("1-12 UNS", ["1-12 UNF"]),
    ("7/32 UNC", ["#12", "1/4"]),
    ("1 UNC", ["#1-64 UNC", "1-8 UNC"]),
    ("10-36 UNS", ["#10", "10.0"]),
    ("#13-20 UNC", ["#0 to #12"]),
    ("1 1/2-8 12-UN", ["12-UN"]),
    ("1/4-20 UNC-4A", ["1A, 2A, 3A"]),
    ("1/4-0 UNC", ["1 to 120"]),
    ("1/0-20 UNC", ["1/0"]),
    ("20-1 UNS", ["12 in"]),
    ("1/2-13 BSW", ["1/2-12 BSW"]),
    ("0.51 BSW", ["1/2-12 BSW", "9/16-12 BSW"]),
    ("1/2 BSW tight", []),
    ("#4 BSW", []),
    ("1/2 Whit", ["1/2-12 Whit"]),
    ("G1/9", ["G1/16", "G1/8"]),
    ("G1/2 C", ["A or B"]),
    ("1/2 BSP", ["G1/2"]),
    ("R1/2", []),
    ("1/2-14 NPT", []),
    ("17 BA", ["0 to 16"]),
    ("14 BA close", []),
    ("Tr20", ["Tr20x4", "Tr20x2"]),
    ("Tr21x5.5", ["Tr20x4", "Tr22x5"]),
    ("Tr20x12", ["Tr20x4"]),
    ("Tr20x4-6e", ["7e"]),
    ("3/4-6 Acme 5G", ["2G, 3G or 4G"]),
    ("5/9 Acme", ["1/2-10 Acme", "5/8-8 Acme"]),
    ("M10 LH LH", []),
    ("M10\x1b[2J", []),
    ("M10\n", []),
    ("M" + 60 * "1", ["60"]),
    ("½-13 UNC", []),
    ("M１０", []),
]


@pytest.mark.parametrize(("text", "parts"), REFUSED)
def test_invalid_thread_designations_are_refused(text: str, parts: list[str]) -> None:
    """The refusal quotes the text and lists what to enter."""
    _refused(text, parts)


def test_a_side_other_than_outside_or_inside_is_refused() -> None:
    """The refusal names the word that is not a side."""
    _refused("M10", ["up", "outside", "inside"], side="up")


def _refused(text: str, parts: list[str], side: str | None = None) -> None:
    with pytest.raises(ThreadError) as caught:
        read_thread(text, side=side)
    message = caught.value.message
    assert caught.value.field in ("thread", "side")
    assert _is_safe(message) and len(message) < 400
    for part in parts:
        assert part in message


_WORDS = "M Tr G BA UNC UNF UN UNS BSW BSF Whit Acme x X LH Ph P 6g 6H 2A 2B 7e medium A L"
_NUMBERS_AND_SIGNS = "10 30 1.5 3.5 1/4 1 20 8 0 - / # . , ( )"
_TEXTS = st.one_of(
    st.text(max_size=70),
    st.lists(st.sampled_from([*_WORDS.split(), *_NUMBERS_AND_SIGNS.split(), " ", "×", '"']), max_size=10).map("".join),
)


def _is_safe(message: str) -> bool:
    """Return whether a message has no control, format or surrogate characters, which must never reach a terminal."""
    return not any(unicodedata.category(character).startswith("C") for character in message)


@given(_TEXTS, st.sampled_from([None, "inside"]))
@settings(max_examples=250, deadline=timedelta(milliseconds=500))
def test_any_text_is_either_read_as_a_thread_or_refused(text: str, side: str | None) -> None:
    """The refusal is one printable sentence, and a thread has possible sizes."""
    try:
        thread = read_thread(text, side=side)
    except ThreadError as error:
        assert _is_safe(error.message) and len(error.message) < 600
        return
    _makes_sense(thread)
    assert thread.internal == read_thread(thread.designation, side="inside" if thread.internal else "outside").internal


def _makes_sense(thread: Thread) -> None:
    limits = thread.limits
    for largest, least in (
        (limits.major_max_mm, limits.major_min_mm),
        (limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm),
        (limits.minor_max_mm, limits.minor_min_mm),
    ):
        assert largest is None or least is None or largest > least > 0
    assert thread.major_basic_mm > thread.pitch_diameter_basic_mm > thread.minor_basic_mm > 0
    assert 0 < thread.pitch_mm < thread.major_basic_mm
    assert 0 < thread.mating_crest_mm <= thread.root_depth_mm
    assert (thread.root_flat_mm > 0) != (thread.root_radius_mm > 0)
    assert thread.has_limits and blank_default_mm(thread) > 0


@pytest.mark.parametrize(
    ("pitch_mm", "named", "not_named"),
    [
        # Common knowledge of the series: ISO 261, ASME B1.1, BS 84, ISO 228-1, BS 93, ISO 2902, ASME B1.5.
        (1.5, ["M10", "M12x1.5", "Tr8x1.5"], ["M12", "M10x1"]),
        (25.4 / 20, ["1/4-20 UNC", "1/2-20 UNF", "1/4-20 BSW", "3/8-20 BSF"], ["1/4-28 UNF"]),
        (25.4 / 14, ["G1/2", "G3/4", "7/16-14 UNC"], ["G1"]),
        (0.66, ["BA 4"], ["BA 5"]),
        (25.4 / 6, ["3/4-6 Acme", "1 1/2-6 BSW"], ["1-5 Acme"]),
    ],
)
def test_standard_threads_of_a_given_pitch_are_found_in_every_series(
    pitch_mm: float, named: list[str], not_named: list[str]
) -> None:
    """No thread with another pitch is found."""
    found = standard_threads_with_pitch(pitch_mm)
    assert [name for name in named if name not in found] == []
    assert [name for name in not_named if name in found] == []
    assert len(found) == len(set(found))


def test_every_standard_thread_can_be_read_as_an_external_and_an_internal_thread() -> None:
    """Each thread in a series is read outside and inside, with possible sizes."""
    names = standard_threads_with_pitch(0.0, within_mm=100.0)
    assert len(names) > 900
    for name in names:
        for side in ("outside", "inside"):
            thread = read_thread(name, side=side)
            _makes_sense(thread)
            assert thread.internal == (side == "inside")
    for name in names[::20]:
        assert name in standard_threads_with_pitch(read_thread(name).pitch_mm)
