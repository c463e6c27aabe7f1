"""The round trip by itself: open, click, tell."""

from __future__ import annotations

from audio.jobs.clicks import ceiling_for, find_click
from audio.jobs.deck import Deck
from audio.verdict.clicks import Heard, explain
from audio.vocab.delay import Delay, ReturnDelay
from audio.vocab.results import ClickReading
from audio.vocab.units import ms_from_frames
from audio.vocab.wiring import Return


def measure_delay(deck: Deck) -> Delay:
    """Send the test click through an open stream and tell what came back.

    Parameters
    ----------
    deck
        An open stream.

    Returns
    -------
    Delay
        With `delay_frames` None and a finding that says why where the click was not heard.
    """
    click = find_click(deck, ceiling_dbfs=ceiling_for(deck, di_peak_dbfs=None))
    return told(click.heard)


def told(heard: Heard) -> Delay:
    """Return what a click said, as figures to show and to script with."""
    rate = heard.wiring.sample_rate
    returns = tuple(_one(r, heard.of(r), rate) for r in heard.wiring.returns)
    reference = returns[heard.wiring.reference_at]
    return Delay(
        reference=reference.name,
        sample_rate=rate,
        click_dbfs=heard.level_dbfs,
        delay_frames=reference.delay_frames,
        delay_ms=reference.delay_ms,
        plus_minus_frames=reference.plus_minus_frames,
        spread_frames=reference.spread_frames,
        snr_db=reference.snr_db,
        polarity=reference.polarity,
        returns=returns,
        findings=explain(heard),
        peak_frames=heard.reference.peak_delay_frames,
    )


def _one(one: Return, reading: ClickReading, rate: int) -> ReturnDelay:
    d = reading.delay_frames
    return ReturnDelay(
        name=one.name,
        input=one.input,
        delay_frames=d,
        delay_ms=None if d is None else ms_from_frames(d, rate=rate),
        plus_minus_frames=reading.plus_minus_frames,
        spread_frames=reading.spread_frames,
        snr_db=reading.snr_db,
        polarity=reading.polarity,
        noise_dbfs=reading.noise_dbfs,
        reason=reading.reason,
    )
