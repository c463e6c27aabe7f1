"""The figures of two sounds side by side, and what would make one sound like the other."""

from __future__ import annotations

from rich.text import Text

from audio.vocab.differences import SoundsApart
from audio.vocab.units import signed, with_sign
from tui.present.looks import FAINT, PLAIN, STRONG, paragraph, text

NAME, FIGURE = 13, 8
CELLS = 1 + NAME + 3 * FIGURE
"""Width of one column of the table."""
BETWEEN = 3
NONE = "\N{MIDDLE DOT}"
"""Where there is no figure; the reason stands below."""

Cells = tuple[str, str, str, str]
"""Name, A, B, B less A."""


def rows_of(apart: SoundsApart) -> list[Cells]:
    """Return the figures: noise and hum are compared at equal loudness."""
    found = apart.differences
    a, b = found.a, found.b
    louder = found.loudness.db if found.loudness else None
    matched = None if louder is None else -louder
    return [
        _row("loudness LUFS", a.loudness_lufs, b.loudness_lufs),
        _row("peak dBFS", a.peak_dbfs, b.peak_dbfs),
        _row("true pk dBTP", a.true_peak_dbtp, b.true_peak_dbtp),
        _row("crest dB", a.crest_db, b.crest_db),
        _row("noise dBFS", a.noise_dbfs, b.noise_dbfs, matched=matched),
        _row("hum dBFS", a.hum_dbfs, b.hum_dbfs, matched=matched),
        _row("echo ms", *(one.echo.repeat_ms if one.echo else None for one in (a, b)), digits=0),
        _row("tail s", a.rings.falls_s, b.rings.falls_s, digits=2),
    ]


def table(apart: SoundsApart, columns: int) -> list[Text]:
    """Return the table: in two halves beside each other where that fits.

    Parameters
    ----------
    apart
        Two sounds.
    columns
        Cells there are.

    Returns
    -------
    list of Text
        A head, then the figures.
    """
    cells = rows_of(apart)
    head = ("", "A", "B", "B−A")
    if columns < 2 * CELLS + BETWEEN:
        return [_line(head, is_head=True), *(_line(one) for one in cells)]
    half = -(-len(cells) // 2)
    gap = text(" " * BETWEEN)
    top = _line(head, is_head=True)
    return [
        top + gap + top,
        *(_line(a) + gap + _line(b) for a, b in zip(cells[:half], cells[half:], strict=True)),
    ]


def words_lines(apart: SoundsApart, columns: int) -> list[Text]:
    """Return what would make A sound like B, then why figures are missing."""
    lines = [text((" what would make A sound like B, at equal loudness:", FAINT))]
    for one in apart.words:
        lines += paragraph(one, columns, STRONG, indent=3)
    return [*lines, *_missing(apart, columns)]


def title(apart: SoundsApart) -> Text:
    """Return which sounds are compared, over what."""
    shown = (f" {apart.part}", STRONG)
    return text(shown, f"  A {apart.a_text}  ·  B {apart.b_text}", (f"  {apart.covers}", FAINT))


def _missing(apart: SoundsApart, columns: int) -> list[Text]:
    a, b = apart.differences.a, apart.differences.b
    why = []
    for name, one in (("A", a), ("B", b)):
        if one.noise_dbfs is None:
            why.append(f"{name}: no noise told, there is no rest to hear it in")
        if one.rings.reason is not None:
            why.append(f"{name}: no tail told, {one.rings.reason}")
    return [line for one in why for line in paragraph(one, columns, FAINT)]


def _row(
    name: str, a: float | None, b: float | None, *, matched: float | None = 0.0, digits: int = 1
) -> Cells:
    apart = NONE
    if a is not None and b is not None and matched is not None:
        apart = with_sign(b - a + matched, digits=digits)
    return name, _figure(a, digits), _figure(b, digits), apart


def _figure(value: float | None, digits: int) -> str:
    return NONE if value is None else signed(value, digits=digits)


def _line(cells: Cells, *, is_head: bool = False) -> Text:
    name, *figures = cells
    look = FAINT if is_head else PLAIN
    return text((f" {name:<{NAME}}", FAINT), *((f"{one:>{FIGURE}}", look) for one in figures))
