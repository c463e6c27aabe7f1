"""A chain in words, as it is plugged and set."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from audio.vocab.card import CardLine
from audio.vocab.chain import AmpAsSet, Chain, Change, ChangeKind, MicAsSet, Pedal

IN_THE_LOOP = "in the loop"

ALL_OUT = (CardLine(word="out", name="all pedals"),)
"""What stands on the card of the bare path."""

WORDS: tuple[ChangeKind, ...] = ("new", "out", "moved", "turn")
"""The first of these that is to be done with a thing stands before it."""

MIC_KNOBS = ("gain", "pad", "filters", "outboard")


def pedals_in_line(chain: Chain) -> str:
    """Return the pedals in order, such as ``fuzz → delay``; of the amp its loop."""
    line = " → ".join(one.name for one in chain.pedals) or "no pedal"
    loops = [" → ".join(one.name for one in amp.loop) for amp in chain.amps if amp.loop]
    return f"{line}; {IN_THE_LOOP}: {', '.join(loops)}" if loops else line


def chain_lines(chain: Chain) -> list[str]:
    """Return a chain as it is plugged and set: pedals, amps, microphones, photos, note."""
    lines = [_pedal(one) for one in chain.pedals]
    for amp in chain.amps:
        lines.append(_amp(amp))
        lines += [f"{IN_THE_LOOP}: {_pedal(one)}" for one in amp.loop]
    lines += [_mic(one) for one in chain.mics]
    lines += [f"photos: {', '.join(chain.photos)}"] if chain.photos else []
    return [*lines, *([chain.note] if chain.note else [])]


def card_lines(chain: Chain | None, touch: Sequence[Change]) -> tuple[CardLine, ...]:
    """Return what stands on a card.

    Parameters
    ----------
    chain
        As its file has it; None where it has none.
    touch
        What has to be touched after the last card.

    Returns
    -------
    tuple of CardLine
        What comes out, then everything that is plugged in the order of the signal.
    """
    gone = [CardLine(word="out", name=one.name, was=one.what) for one in touch if one.kind == "out"]
    if chain is None:
        return tuple(gone)
    return (*gone, *_plugged(chain, [one for one in touch if one.kind != "out"]))


def notes(chain: Chain) -> list[str]:
    """Return what is to be known of a chain besides: its note, and the names of its photos."""
    photos = f"photos: {', '.join(chain.photos)}" if chain.photos else ""
    return [one for one in (chain.note, photos) if one]


def _pedal(one: Pedal) -> str:
    told = [*_settings(one.knobs), *(["moves by itself"] if one.moves else [])]
    note = f" ({one.note})" if one.note else ""
    return f"{one.name}{': ' if told else ''}{', '.join(told)}{note}"


def _amp(amp: AmpAsSet) -> str:
    note = f" ({amp.note})" if amp.note else ""
    return f"amp{' ' if amp.name else ''}{amp.name}: {', '.join(_amp_settings(amp))}{note}"


def _mic(mic: MicAsSet) -> str:
    first = [mic.mic] if mic.mic else []
    words = {key: getattr(mic, key) for key in ("place", "preamp", *MIC_KNOBS)}
    return f"{mic.return_name}: {', '.join([*first, *_settings(words)])}"


def _plugged(chain: Chain, touch: Sequence[Change]) -> Iterator[CardLine]:
    """Yield what stands in the way of the signal, in its order."""
    if not chain.pedals:
        yield CardLine(word="", name="no pedal")
    for pedal in chain.pedals:
        yield _line(pedal.name, _pedal_settings(pedal), _of(touch, "pedal", pedal.name))
    for amp in chain.amps:
        settings = (*_amp_settings(amp), *([amp.note] if amp.note else []))
        yield _line(amp.name or "amp", settings, _of(touch, "amp", amp.name))
        for pedal in amp.loop:
            settings = (IN_THE_LOOP, *_pedal_settings(pedal))
            yield _line(pedal.name, settings, _of(touch, "pedal", pedal.name))
    for mic in chain.mics:
        yield _line(mic.return_name, _mic_settings(mic), _of(touch, "mic", mic.return_name))


def _of(touch: Sequence[Change], at: str, name: str) -> list[Change]:
    return [one for one in touch if (one.at, one.name) == (at, name)]


def _line(name: str, settings: Iterable[str], touch: Sequence[Change]) -> CardLine:
    kinds = {one.kind for one in touch}
    word = next((kind for kind in WORDS if kind in kinds), "")
    turned = tuple(f"{one.what} {one.now}" for one in touch if one.kind == "turn")
    was = [f"{one.what} was {one.was}" for one in touch if one.kind == "turn" and one.was]
    where = [one.what for one in touch if one.kind in ("moved", "new") and one.what]
    return CardLine(
        word=word,
        name=name,
        settings=tuple(settings),
        changed=turned if word in ("turn", "moved") else (),
        was=", ".join([*where, *was]) if word != "new" else ", ".join(where),
    )


def _pedal_settings(pedal: Pedal) -> tuple[str, ...]:
    return (*_settings(pedal.knobs), *([pedal.note] if pedal.note else []))


def _amp_settings(amp: AmpAsSet) -> tuple[str, ...]:
    words = {"input": amp.input} | amp.knobs | {"speaker": amp.speaker, "tap": amp.tap}
    return tuple(_settings(words))


def _mic_settings(mic: MicAsSet) -> tuple[str, ...]:
    words = {key: getattr(mic, key) for key in MIC_KNOBS}
    first = (mic.mic, mic.place, mic.preamp)
    return (*(one for one in first if one), *_settings(words))


def _settings(words: Mapping[str, str]) -> Iterator[str]:
    return (f"{key} {value}" for key, value in words.items() if value)
