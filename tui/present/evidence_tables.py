"""The figures behind a verdict, a line for each return: clicks, noise, microphones, files."""

from __future__ import annotations

from rich.text import Text

from audio.plan.evidence_words import (
    both_clicks,
    last_time,
    later_ms,
    moved,
    polarity,
    reference_at,
    reference_clicks,
    steadiness,
)
from audio.vocab.results import ClickReading
from audio.vocab.units import with_sign
from audio.vocab.variant import Variant, VariantFile
from tui.present.click_picture import DOT
from tui.present.glyphs import cut
from tui.present.looks import ACCENT, FAINT, STRONG, paragraph, text
from tui.present.plain import level

NAME = 10
"""Cells of a return's name."""
NONE = "\N{MINUS SIGN}"


def head(title: str, words: str = "") -> Text:
    """Return the line over a table: its title where the names stand, then its columns."""
    return text(" ", (cut(title, NAME), ACCENT), (words, FAINT))


def clicks(variant: Variant, columns: int, earlier: Variant | None) -> list[Text]:
    """Return both clicks of each return by their peaks, and how steady they were."""
    if not variant.opening_click and not variant.closing_click:
        return [head("clicks") + text((" none were played", FAINT))]
    legend = f" {'█ opening':>14} {f'{DOT} closing':>14}  {'moved':>6}  {'over noise':>10}"
    shown = [head("clicks", legend)]
    shown += [_click(file, first, last) for file, first, last in both_clicks(variant)]
    first, _ = reference_clicks(variant)
    words = "; ".join(filter(None, (steadiness(first), last_time(variant, earlier))))
    return [*shown, *paragraph(words, columns, FAINT, indent=NAME + 2)] if words else shown


def _click(file: VariantFile, first: ClickReading | None, last: ClickReading | None) -> Text:
    by = moved(first, last)
    over = NONE if first is None or first.snr_db is None else f"{first.snr_db:.0f} dB"
    return text(
        " ",
        (cut(file.return_name, NAME), STRONG),
        f" {_peak(first):>14} {_peak(last):>14}",
        (f"  {NONE if by is None else with_sign(by, digits=2):>6}", STRONG),
        (f"  {over:>10}", FAINT),
    )


def _peak(one: ClickReading | None) -> str:
    if one is None:
        return "none"
    if one.peak_delay_frames is None:
        return one.reason or "unclear"
    return f"{one.peak_delay_frames:.2f} ± {one.peak_plus_minus_frames or 0.0:.2f}"


def noise(variant: Variant) -> list[Text]:
    """Return each return's noise before the pass and in the DI's rests, and the mains lines in it."""
    if not variant.files:
        return []
    columns = f" {'before':>7} {'in rests':>9} {'change':>7}   hum, dBFS"
    shown = [head("noise", columns), *(_noise(one) for one in variant.files)]
    if all(one.rest_noise_dbfs is None for one in variant.files):
        shown.append(text((f" {'':{NAME}} no rest of the DI was listened to", FAINT)))
    return shown


def _noise(one: VariantFile) -> Text:
    before, rests = one.noise_dbfs, one.rest_noise_dbfs
    by = NONE if before is None or rests is None else with_sign(rests - before, digits=1)
    return text(
        " ",
        (cut(one.return_name, NAME), STRONG),
        f" {_level(before):>7} {_level(rests):>9} ",
        (f"{by:>7}", STRONG),
        f"   {_hum(one)}",
    )


def _level(dbfs: float | None) -> str:
    return NONE if dbfs is None else level(dbfs).strip()


def _hum(one: VariantFile) -> str:
    if one.hum_dbfs is None and one.rest_hum_dbfs is None:
        return "none stands out" if one.noise_dbfs is not None else NONE
    mains = f"{one.hum_hz} Hz " if one.hum_hz else ""
    rests = "" if one.rest_hum_dbfs is None else f", {_level(one.rest_hum_dbfs)} in rests"
    return f"{mains}{_level(one.hum_dbfs)}{rests}"


def microphones(variant: Variant) -> list[Text]:
    """Return how much later each microphone hears than the reference, and which way round it is."""
    if not variant.files:
        return []
    columns = f" {'frames':>8} {'ms':>7} {'air':>8}   polarity"
    at, rows = reference_at(variant), both_clicks(variant)
    shown = [
        _microphone(file, first, variant.sample_rate, is_reference=i == at)
        for i, (file, first, _) in enumerate(rows)
    ]
    return [head("mics", columns), *shown]


def _microphone(
    file: VariantFile, click: ClickReading | None, rate: int, *, is_reference: bool
) -> Text:
    extra, air = file.extra_delay_frames, file.extra_air_cm
    far = NONE if air is None else f"{with_sign(air)} cm"
    figures = f" {_signed(extra):>8} {_signed(later_ms(file, rate)):>7} {far:>8}"
    judged = polarity(file, click, is_reference=is_reference)
    return text(
        " ",
        (cut(file.return_name, NAME), STRONG),
        f" {'the reference':>25}" if is_reference else figures,
        f"   {judged}",
    )


def _signed(number: float | None) -> str:
    return NONE if number is None else with_sign(number, digits=2)


def files(variant: Variant) -> list[Text]:
    """Return the files with their levels."""
    shown = [head("files")]
    for one in variant.files:
        loud = "     \N{MINUS SIGN}" if one.loudness_lufs is None else level(one.loudness_lufs)
        clipped = f"   clipped {one.clipped_runs} times" if one.clipped_runs else ""
        words = f" peak {level(one.peak_dbfs)} dBFS {loud} LUFS{clipped}"
        shown.append(text(" ", (cut(one.return_name, NAME), STRONG), words))
        shown.append(text((f" {'':{NAME}} {one.path.rpartition('/')[2]}", FAINT)))
    folder = variant.files[0].path.rpartition("/")[0] if variant.files else ""
    return [*shown, text((f" {'':{NAME}} in {folder}/", FAINT))]
