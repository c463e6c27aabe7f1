"""Returns: what the microphones bring back, and how long the way takes."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text

from audio.vocab.delay import ReturnDelay
from audio.vocab.units import signed
from tui.model import Model
from tui.present.glyphs import cut
from tui.present.looks import BAD, CARE, FAINT, STRONG, WELL, paragraph, text

KEYS = (
    ("click", ""),
    ("set", ""),
    ("wire", ""),
    ("go", ""),
    ("walk_left+walk_right", "walk"),
    ("keys", ""),
)

EMPTY = (
    "The test click measures the way through amp, air and converters. It starts quiet and rises only until"
    " it is heard. Keep ears away from the speaker, then press {click}."
)


HEAD = f" {'return':<12} {'in':>3} {'frames':>10}{'':<8}{'ms':>8}{'over noise':>12}  polarity"


def lines(model: Model, columns: int, rows: int, *, key: Callable[[str], str]) -> list[Text]:
    """Return what the test click said of each return, in at most so many rows."""
    delay = model.delay
    if delay is None:
        return [text(), *paragraph(EMPTY.format(click=key("click")), columns, FAINT)][:rows]
    old = ("   stale: of another stream", CARE) if model.delay_is_old else ("", FAINT)
    shown = [
        text((f" test click at {signed(delay.click_dbfs)} dBFS", FAINT), old),
        text((HEAD, FAINT)),
    ]
    shown += [_one(one, reference=one.name == delay.reference) for one in delay.returns]
    for finding in delay.findings:
        look = FAINT if finding.weight == "good" else CARE if finding.weight == "look" else BAD
        shown += paragraph(f"{finding.text} {finding.advice}".rstrip(), columns, look)
    return shown[:rows]


def _one(one: ReturnDelay, *, reference: bool) -> Text:
    name = text(" ", cut(one.name, 12), (f" {one.input:3} ", FAINT))
    if one.delay_frames is None or one.delay_ms is None:
        why = "nothing clear of the noise" if one.reason == "nothing" else one.reason or "unclear"
        return name + text((f"  not heard: {why}", BAD))
    sure = "" if one.plus_minus_frames is None else f" ± {one.plus_minus_frames:.2f}"
    line = name + text(
        (f"{one.delay_frames:10.2f}", STRONG), f"{sure:<8}", (f"{one.delay_ms:8.2f}", STRONG)
    )
    over = "" if one.snr_db is None else f"{one.snr_db:.0f} dB"
    line += text(f"{over:>12}", f"  {one.polarity:<8}")
    return line + text((" reference" if reference else "", WELL))
