"""A chain in words, as it is plugged and set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal


def pedals_in_line(chain: Chain) -> str:
    """Return the pedals in order, such as ``fuzz → delay``; of the amp its loop."""
    line = " → ".join(one.name for one in chain.pedals) or "no pedal"
    loops = [" → ".join(one.name for one in amp.loop) for amp in chain.amps if amp.loop]
    return f"{line}; in the loop: {', '.join(loops)}" if loops else line


def chain_lines(chain: Chain) -> list[str]:
    """Return a chain as it is plugged and set: pedals, amps, microphones, photos, note."""
    lines = [_pedal(one) for one in chain.pedals]
    for amp in chain.amps:
        lines.append(_amp(amp))
        lines += [f"in the loop: {_pedal(one)}" for one in amp.loop]
    lines += [_mic(one) for one in chain.mics]
    lines += [f"photos: {', '.join(chain.photos)}"] if chain.photos else []
    return [*lines, *([chain.note] if chain.note else [])]


def _pedal(one: Pedal) -> str:
    told = [*_knobs(one.knobs), *(["moves by itself"] if one.moves else [])]
    note = f" ({one.note})" if one.note else ""
    return f"{one.name}{': ' if told else ''}{', '.join(told)}{note}"


def _amp(amp: AmpAsSet) -> str:
    words = {"input": amp.input} | amp.knobs | {"speaker": amp.speaker, "tap": amp.tap}
    note = f" ({amp.note})" if amp.note else ""
    return f"amp{' ' if amp.name else ''}{amp.name}: {', '.join(_knobs(words))}{note}"


def _mic(mic: MicAsSet) -> str:
    first = [mic.mic] if mic.mic else []
    words = {
        "place": mic.place,
        "preamp": mic.preamp,
        "gain": mic.gain,
        "pad": mic.pad,
        "filters": mic.filters,
        "outboard": mic.outboard,
    }
    return f"{mic.return_name}: {', '.join([*first, *_knobs(words)])}"


def _knobs(knobs: Mapping[str, str]) -> Iterator[str]:
    return (f"{knob} {setting}" for knob, setting in knobs.items() if setting)
