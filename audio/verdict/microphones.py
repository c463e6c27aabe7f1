"""The microphones among themselves: polarity by two ways, and how much later each one hears."""

from __future__ import annotations

from audio.verdict.case import usable
from audio.verdict.thresholds import MUSIC_SURE
from audio.verdict.words import listing
from audio.vocab.alignment import Polarity
from audio.vocab.findings import Finding
from audio.vocab.order import Order
from audio.vocab.results import ClickReading, PassMeasures
from audio.vocab.units import ms_from_frames


def polarities(order: Order, measures: PassMeasures) -> tuple[Polarity, ...]:
    """Return the polarity of each return, in the wiring's order.

    By the alternating clicks, and by sum against difference with the reference return (for the
    reference: by the music); where both speak and disagree it is unsure.

    Parameters
    ----------
    order
        With its opening click.
    measures
        With one entry for each return.

    Returns
    -------
    tuple of Polarity
        One for each return.
    """
    at = order.wiring.reference_at
    clicks = order.opening_click
    by_click: list[Polarity] = [c.polarity for c in clicks] or ["unsure"] * len(measures.returns)
    music = usable(measures.music, least=MUSIC_SURE)
    by_music: Polarity = music.polarity if music is not None else "unsure"
    reference = _agreed(by_click[at], by_music)
    found = []
    for i, recorded in enumerate(measures.returns):
        together = recorded.together
        by_sum = _times(reference, together.polarity) if together else "unsure"
        found.append(reference if i == at else _agreed(by_click[i], by_sum))
    return tuple(found)


def extra_delays(order: Order) -> tuple[float | None, ...]:
    """Return how many frames later than the reference of its amp each return heard the opening click.

    None where either did not hear it, or where there was none.
    """
    if not order.opening_click:
        return (None,) * len(order.wiring.returns)
    wiring = order.wiring
    heard = dict(zip(wiring.returns, order.opening_click, strict=True))
    return tuple(_extra(heard[one], heard[wiring.beside(one)]) for one in wiring.returns)


def amps_apart(order: Order) -> list[Finding]:
    """Return how much later than the reference's amp each other one answers: information only.

    What lies between two amps is sound and stays in the files: all returns of a pass move together.
    """
    wiring = order.wiring
    if len(wiring.amps) < 2 or not order.opening_click:
        return []
    heard = dict(zip(wiring.returns, order.opening_click, strict=True))
    reference = wiring.reference_return
    found = []
    for amp in wiring.amps:
        first = next(one for one in wiring.returns if one.amp == amp)
        later = _extra(heard[wiring.beside(first)], heard[reference])
        if amp == reference.amp or later is None:
            continue
        ms = ms_from_frames(later, rate=wiring.sample_rate)
        way = "after" if ms > 0 else "before"
        names = amp or "the other amp", reference.amp or "the reference"
        text = f"{names[0]} answers {abs(ms):.2f} ms {way} {names[1]}, and stays so in the files."
        found.append(Finding(code="amps-apart", weight="good", text=text))
    return found


def upside_down(order: Order, measures: PassMeasures) -> list[Finding]:
    """Return which returns come back with the other polarity than the rest of their amp's: information."""
    known = list(zip(order.wiring.returns, polarities(order, measures), strict=True))
    return [
        finding
        for amp in order.wiring.amps
        for finding in _turned([(r.name, p) for r, p in known if r.amp == amp])
    ]


def _turned(known: list[tuple[str, Polarity]]) -> list[Finding]:
    names = [(name, polarity) for name, polarity in known if polarity != "unsure"]
    turned = [name for name, polarity in names if polarity == "inverted"]
    if not turned or len(turned) == len(names):
        return []
    upright = listing([name for name, polarity in names if polarity == "normal"])
    text = f"{listing(turned)} comes back upside down against {upright}."
    advice = "Right for a microphone behind the cabinet; else flip the polarity of one of them."
    return [Finding(code="polarity-differs", weight="good", text=text, advice=advice)]


def _agreed(one: Polarity, other: Polarity) -> Polarity:
    """Return what two ways agree on; one that does not know leaves it to the other."""
    if "unsure" in {one, other}:
        return one if other == "unsure" else other
    return one if one == other else "unsure"


def _times(reference: Polarity, against_it: Polarity) -> Polarity:
    if "unsure" in {reference, against_it}:
        return "unsure"
    return "normal" if reference == against_it else "inverted"


def _extra(click: ClickReading, reference: ClickReading) -> float | None:
    if click.delay_frames is None or reference.delay_frames is None:
        return None
    return click.delay_frames - reference.delay_frames
