"""The card of a job as one complete HTML page, to print, to tick off, and to read in any browser.

Source: HTML living standard, WHATWG. The page needs no script and no network, and its content policy forbids both.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from core.jobs.card import general_cautions, own_cautions
from core.jobs.changeover import Change, job_changes
from core.jobs.job import Job, JobOperation
from core.lathe.lathe import Lathe
from core.operations.pass_words import ON_THE_RADIUS, amount_words, on_the_radius
from core.operations.registry import operation_of
from core.operations.settings_table import SettingsTable
from core.pages.card_page import heading_words, lathe_words, notes, untabled
from core.pages.dial_drawing import dial_drawings
from core.pages.figure_words import TABLES, lines_for, table_rows
from core.pages.pattern_svg import pattern_drawing
from core.pages.settings_page import settings_of, title_of
from core.pages.svg import drawing_svg, tag, words
from core.values.errors import CoreError

_PAPER_MM = 180.0
"""The width that an A4 page leaves between its margins [mm]."""
_DRAWING_MM, _DIAL_MM = 110.0, 85.0
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_STYLE = """
@page { margin: 14mm 15mm; }
body { font: 10.5pt/1.35 sans-serif; color: #000; background: #fff; max-width: 180mm; margin: 0 auto; padding: 2mm; }
h1 { font-size: 17pt; margin: 0 0 2mm; }
h2 { font-size: 13pt; margin: 7mm 0 2mm; border-bottom: 0.3mm solid #000; break-after: avoid; }
h3 { font-size: 11pt; margin: 4mm 0 1mm; break-after: avoid; }
table { border-collapse: collapse; margin: 2mm 0; }
thead { display: table-header-group; }
tr, figure { break-inside: avoid; }
th, td { border: 0.2mm solid #888; padding: 0.6mm 1.6mm; text-align: left; vertical-align: top; }
.figures th { font-weight: normal; }
.figures th, .figures td { border: 0; padding: 0 4mm 0 0; }
td.number, th.number { text-align: right; }
.caution { list-style: none; padding: 0; }
.caution li, p.caution { font-weight: bold; margin: 0.5mm 0; }
.boxes { list-style: none; padding: 0; }
figure { margin: 3mm 0; }
figure svg { max-width: none; display: block; }
figcaption { font-size: 9.5pt; }
input { width: 4mm; height: 4mm; margin: 0.3mm; }
"""
_BOX = '<input type="checkbox" aria-label="done">'


def card_html(job: Job) -> str:
    """Return the card of a job as a complete HTML page."""
    body = [block("h1", job.title), block("p", f"Lathe: {lathe_words(job.lathe)}")]
    body += [block("p", f"Material: {job.material}")] if job.material else []
    general = general_cautions(job)
    body += [block("h2", "Before you switch on"), caution_list(general)] if general else []
    for operation, changes in zip(job.operations, job_changes(job), strict=True):
        body += _operation(operation, job.lathe, changes)
    return whole_page(job.title, body)


def whole_page(title: str, body: Iterable[str]) -> str:
    """Return a complete HTML page. `body`: the rows of HTML between the body tags."""
    head = (
        '<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        f"<title>{words(title)}</title>\n<style>{_STYLE}</style>"
    )
    lines = "\n".join(body)
    return f'<!DOCTYPE html>\n<html lang="en">\n<head>\n{head}\n</head>\n<body>\n{lines}\n</body>\n</html>\n'


def block(name: str, text: str) -> str:
    """Return an HTML element called `name` with a text in it. Characters that HTML would interpret are escaped."""
    return f"<{name}>{words(text)}</{name}>"


def caution_list(sentences: Iterable[str]) -> str:
    """Return an HTML list of cautions; "" if there are none."""
    items = "".join(f"<li>! {words(sentence)}</li>" for sentence in sentences)
    return f'<ul class="caution">{items}</ul>' if items else ""


def _operation(operation: JobOperation, lathe: Lathe, changes: Sequence[Change]) -> Iterator[str]:
    figures = operation.plan.figures
    yield block("h2", heading_words(operation))
    named = list(lines_for(lathe, untabled(figures), whole=True, names=operation.figure_names))
    if named:
        yield figures_table(named)
    for key in TABLES & figures.keys():
        yield _tabled_figures(key, figures[key], lathe)
    yield caution_list(own_cautions(operation, lathe))
    yield from _drawings(operation, lathe)
    if changes:
        items = "".join(f"<li>{_BOX} {words(change.text)}</li>" for change in changes)
        yield f'{block("h3", "Before this operation")}<ul class="boxes">{items}</ul>'
    for table in settings_of(operation):
        yield _settings(table)
    yield from _steps(operation, lathe)


def figures_table(named: Iterable[tuple[str, str]]) -> str:
    """Return an HTML table with one row for each label and its value."""
    rows = "".join(f'<tr><th scope="row">{words(name)}</th><td>{words(value)}</td></tr>' for name, value in named)
    return f'<table class="figures"><tbody>{rows}</tbody></table>'


def _tabled_figures(key: str, entries: Sequence[Mapping[str, Any]], lathe: Lathe) -> str:
    heads = ["", *(f"{key[:-1]} {number}" for number in range(1, len(entries) + 1))]
    return _table(heads, ([name, *values] for name, values in table_rows(entries, lathe.unit)))


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, boxes: bool = False) -> str:
    """Return an HTML table. `heads`: the headings of the columns.

    `boxes`: True to start every row with a box to tick.
    """
    box_head, box = ("<th>done</th>", f"<td>{_BOX}</td>") if boxes else ("", "")
    head = box_head + "".join(f'<th scope="col">{words(text)}</th>' for text in heads)
    body = "".join(f"<tr>{box}{''.join(f'<td>{words(cell)}</td>' for cell in row)}</tr>\n" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody></table>"


def _settings(table: SettingsTable) -> str:
    return block("h3", title_of(table)) + _table(table.columns, table.rows, boxes=True)


def _drawings(operation: JobOperation, lathe: Lathe) -> Iterator[str]:
    """Yield the pictures of an operation: first the pattern, then the drawings of its plan, then the dials.

    The pattern is drawn at true size, or smaller if it is wider than the paper.
    """
    picture = operation.picture
    if picture is not None:
        yield _figure(pattern_drawing(picture, operation.name, _PAPER_MM), "")
    try:
        overview = operation_of(operation.kind).overview(operation.parameters, lathe)
    except CoreError:
        overview = ()
    for name, drawing in overview:
        yield _figure(
            drawing_svg(drawing, width_mm=_DRAWING_MM, title=name), " ".join((f"{name}.", *drawing.sentences))
        )
    for name, drawing in dial_drawings(operation.plan, lathe):
        yield _figure(drawing_svg(drawing, width_mm=_DIAL_MM, title=name), f"{name}.")


def _figure(svg: str, caption: str) -> str:
    return tag("figure", svg, f"<figcaption>{words(caption)}</figcaption>" if caption else "")


def _steps(operation: JobOperation, lathe: Lathe) -> Iterator[str]:
    steps = operation.plan.steps
    yield block("h3", "Steps")
    if any(amount_words(step, lathe) and on_the_radius(operation.kind, step) for step in steps):
        yield block("p", ON_THE_RADIUS)
    rows = []
    for number, step in enumerate(steps, start=1):
        further = "".join(f"<br>{words(note)}" for note in notes(step, lathe))
        further += "".join(f"<br><strong>! {words(caution)}</strong>" for caution in step.cautions)
        cells = f'<td class="number">{number}</td><td>{words(step.text)}{further}</td>'
        rows.append(f"<tr><td>{_BOX}</td>{cells}<td>{words(amount_words(step, lathe))}</td></tr>\n")
    heads = "".join(f'<th scope="col">{head}</th>' for head in ("done", "step", "what", "takes off, to go"))
    yield f"<table><thead><tr>{heads}</tr></thead><tbody>\n{''.join(rows)}</tbody></table>"
