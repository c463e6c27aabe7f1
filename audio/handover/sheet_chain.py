"""The chain card on the sheet: everything in the way of the signal, numbered, every setting as written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from audio.handover.markup import Markup, joined, own, tag
from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal
from audio.vocab.sheet import SheetSound
from audio.vocab.variant import VariantFile
from audio.vocab.wiring import Wiring

NOBODY = "Nobody wrote the settings of this chain down; only its name is known. Ask whoever set it."


def chain_card(sound: SheetSound) -> Markup:
    """Return the chain of a sound as a numbered list, in the order the signal runs."""
    if sound.loose_settings:
        why = tag(
            "p", "These settings were not written by this program; they stand as they were found."
        )
        return joined([why, tag("pre", sound.loose_settings, dir="auto")])
    if sound.chain is None:
        card = tag("p", NOBODY, class_="missing")
        return joined([card, _steps(_ends(sound.wiring, sound, ()))]) if sound.wiring else card
    chain = sound.chain
    rows = [*_before(sound), *_plugged(chain), *_ends(sound.wiring, sound, chain.mics)]
    told = [_steps(rows)]
    if chain.note:
        told.append(tag("p", "Note: ", own(chain.note), class_="note"))
    return joined(told)


def _steps(rows: Iterator[Markup] | list[Markup]) -> Markup:
    return tag("ol", *rows, class_="chain")


def _before(sound: SheetSound) -> Iterator[Markup]:
    if sound.wiring is not None:
        yield _row("send", (f"output {sound.wiring.send_output}", "into the reamp box"))


def _plugged(chain: Chain) -> Iterator[Markup]:
    if not chain.pedals:
        yield _row("no pedal", ())
    for pedal in chain.pedals:
        yield _pedal(pedal)
    for amp in chain.amps:
        yield _amp(amp)
        for pedal in amp.loop:
            yield _pedal(pedal, where=f"in the loop of {amp.name}" if amp.name else "in the loop")
        if amp.speaker or amp.tap:
            name = f"speaker of {amp.name}" if amp.name else "speaker"
            yield _row(name, tuple(one for one in (amp.speaker, amp.tap) if one))


def _pedal(pedal: Pedal, where: str = "") -> Markup:
    return _row(
        pedal.name,
        tuple(one for one in (where, "moves by itself" if pedal.moves else "") if one),
        pedal.knobs,
        pedal.note,
    )


def _amp(amp: AmpAsSet) -> Markup:
    name = f"amp {amp.name}" if amp.name else "amp"
    return _row(name, (f"input {amp.input}",) if amp.input else (), amp.knobs, amp.note)


def _ends(wiring: Wiring | None, sound: SheetSound, mics: tuple[MicAsSet, ...]) -> Iterator[Markup]:
    """Yield each microphone: those of the chain's file, then those that only the recording knows."""
    files = {one.return_name: one for one in sound.variant.files}
    amps = {one.name: one.amp for one in wiring.returns} if wiring else {}
    written = {one.return_name: one for one in mics}
    for name in dict.fromkeys((*written, *files)):
        mic = written.get(name) or MicAsSet(return_name=name)
        yield _mic(mic, files.get(name), amps.get(name, ""))


def _mic(mic: MicAsSet, file: VariantFile | None, amp: str) -> Markup:
    keys = ("preamp", "gain", "pad", "filters", "outboard")
    settings = {key: getattr(mic, key) for key in keys if getattr(mic, key)}
    words = (
        mic.mic,
        mic.place or "nobody wrote its place down",
        _measured(file),
        f"at amp {amp}" if amp else "",
    )
    to = "its input is not known" if file is None else f"into input {file.input}"
    told = tuple(one for one in words if one)
    return _row(f"microphone {mic.return_name}", told, settings, "", (to,))


def _measured(file: VariantFile | None) -> str:
    """Return how far it stood by the click; empty of the reference, and where it is not known."""
    cm = file.extra_air_cm if file else None
    if not cm:
        return ""
    way = "further away" if cm > 0 else "nearer"
    return f"measured {abs(cm):.0f} cm {way} than the reference"


def _row(
    name: str,
    words: tuple[str, ...],
    knobs: Mapping[str, str] | None = None,
    note: str = "",
    behind: tuple[str, ...] = (),
) -> Markup:
    told = [tag("span", own(one), class_="words") for one in words]
    told += [
        tag("span", own(key), " ", tag("b", own(value)), class_="knob")
        for key, value in (knobs or {}).items()
    ]
    told += [tag("span", own(one), class_="words") for one in behind]
    told += [tag("span", own(note), class_="note")] if note else []
    name_ = tag("span", own(name), class_="thing")
    return tag("li", name_, " ", tag("span", joined(told, " "), class_="settings"))
