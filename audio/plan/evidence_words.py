"""What a verdict rests on, in trade words: the placement, the clicks, the microphones.

Words only: the screen, the command line and the recall sheet say the same.
"""

from __future__ import annotations

from itertools import zip_longest

from audio.vocab.results import ClickReading
from audio.vocab.units import clock_time, ms_from_frames, with_sign
from audio.vocab.variant import Variant, VariantFile

SHOWN_MS = 0.1
"""A chain that adds less than this is not worth a word: 3.4 cm of air."""

_ALIGNED = {"di": "the DI", "live": "the moment it was played", "original": "the original"}


def moment(seconds: float) -> str:
    """Return a time to the hundredth: ``0:41.25``; what lies before zero reads 0:00.00."""
    hundredths = max(round(seconds * 100), 0)
    return f"{clock_time(hundredths // 100)}.{hundredths % 100:02d}"


def reference_at(variant: Variant) -> int:
    """Return which of a variant's files is the reference return's; the first where nothing tells."""
    wiring = variant.setup.get("wiring")
    name = wiring.get("reference") if isinstance(wiring, dict) else None
    names = [one.return_name for one in variant.files]
    return names.index(name) if name in names else 0


def both_clicks(
    variant: Variant,
) -> list[tuple[VariantFile, ClickReading | None, ClickReading | None]]:
    """Return each file with what its return heard of the opening and of the closing click."""
    opening, closing, many = variant.opening_click, variant.closing_click, len(variant.files)
    rows = zip_longest(variant.files, opening[:many], closing[:many])
    return [(file, first, last) for file, first, last in rows if file is not None]


def reference_clicks(variant: Variant) -> tuple[ClickReading | None, ClickReading | None]:
    """Return what the reference return heard of the opening and of the closing click."""
    rows = both_clicks(variant)
    if not rows:
        return None, None
    _, first, last = rows[reference_at(variant)]
    return first, last


def moved(first: ClickReading | None, last: ClickReading | None) -> float | None:
    """Return how many frames later the closing click came, by the peaks as they are written: to 0.01.

    None where one is missing.
    """
    if first is None or last is None:
        return None
    before, after = first.peak_delay_frames, last.peak_delay_frames
    return None if before is None or after is None else round(after, 2) - round(before, 2)


# ---------------------------------------------------------------- placement and clicks


def round_trip(variant: Variant) -> str:
    """Return the round trip with what is not known of it."""
    if variant.delay_frames is None:
        return "not placed"
    sure, rate = variant.plus_minus_frames, variant.sample_rate
    around = "" if sure is None else f" ± {sure:.2f}"
    ms = ms_from_frames(variant.delay_frames, rate=rate)
    return f"round trip {variant.delay_frames:.2f}{around} frames ({ms:.2f} ms)"


def placement(variant: Variant) -> str:
    """Return by what the pass was placed, what was removed and what is left."""
    if variant.delay_frames is None:
        return "not placed: no click was heard"
    left = variant.residual_frames or 0.0
    kept = ", as in the pass before" if abs(left) > 0.5 else ""
    removed = f"{variant.shift_frames} removed, {with_sign(left, digits=2)} left{kept}"
    words = f"by {variant.delay_source}: {removed}"
    where = _ALIGNED.get(variant.align_to, variant.align_to)
    return f"{words}{_by_music(variant)}; aligned to {where}{adds(variant)}"


def _by_music(variant: Variant) -> str:
    """Return what is left by the music, a check of the click's word; empty where it does not tell."""
    music = variant.music
    if music is None or music.delay_frames is None:
        return ""
    sure = "" if music.plus_minus_frames is None else f" ± {music.plus_minus_frames:.2f}"
    return f" (music: {with_sign(music.delay_frames, digits=2)}{sure})"


def adds(variant: Variant) -> str:
    """Return what the chain adds to the bare path, a semicolon in front; empty where that is no delay."""
    ms = ms_from_frames(variant.chain_adds_frames or 0.0, rate=variant.sample_rate)
    return f"; this chain adds {ms:.1f} ms" if ms >= SHOWN_MS else ""


def steadiness(reading: ClickReading | None) -> str:
    """Return how well the single clicks of a train agree; empty where nothing tells."""
    if reading is None or reading.delay_frames is None:
        return ""
    heard, sent = sum(one is not None for one in reading.arrivals), len(reading.arrivals)
    over = "" if not sent else f" over {heard} clicks"
    over += f" of {sent}" if heard < sent else ""
    if reading.spread_frames is None:
        return f"heard {over.strip()}" if over else ""
    return f"steady to {reading.spread_frames:.2f} frames{over}"


def last_time(variant: Variant, earlier: Variant | None) -> str:
    """Return the round trip of the chain's pass before and how far this one's lies from it."""
    if earlier is None or earlier.delay_frames is None or variant.delay_frames is None:
        return ""
    before, now = round(earlier.delay_frames, 2), round(variant.delay_frames, 2)
    return f"pass {earlier.number:03d}: {before:.2f}, {with_sign(now - before, digits=2)}"


# ---------------------------------------------------------------- microphones


def later_ms(file: VariantFile, rate: int) -> float | None:
    """Return how many milliseconds later a microphone hears than the reference."""
    if file.extra_delay_ms is not None or file.extra_delay_frames is None:
        return file.extra_delay_ms
    return ms_from_frames(file.extra_delay_frames, rate=rate)


def distance(file: VariantFile, rate: int) -> str:
    """Return how much later a microphone hears than the reference: ``+6.29 ms, about +216 cm``.

    Empty for the reference itself, and where one of the two did not hear the click.
    """
    ms = later_ms(file, rate)
    if not ms:
        return ""
    air = "" if file.extra_air_cm is None else f", about {with_sign(file.extra_air_cm)} cm"
    return f"{with_sign(ms, digits=2)} ms{air}"


def polarity(file: VariantFile, click: ClickReading | None, *, is_reference: bool) -> str:
    """Return which way round a microphone is and how that was judged, or why it is not sure."""
    by_click = click.polarity if click is not None else "unsure"
    if file.polarity != "unsure":
        otherwise = "the music" if is_reference else "sum and difference"
        return f"{file.polarity}, by {otherwise if by_click == 'unsure' else 'the clicks'}"
    if by_click != "unsure":
        return f"unsure: clicks and {'music' if is_reference else 'sum'} disagree"
    return (
        "unsure: no clear click"
        if click is None or click.reason
        else "unsure: the click is smeared"
    )
