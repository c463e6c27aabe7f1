"""The phrase by which a sound is proven: where it lies, what was measured over it, how to compare."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from audio.handover.markup import Markup, drawing, facts, items, joined, own, table, tag
from audio.handover.words import UNKNOWN, db
from audio.plan.evidence_words import moment
from audio.vocab.sheet import FileTold, ReferencePhrase, SheetSound, SoundTold
from audio.vocab.units import shortest

LOWEST_HZ, HIGHEST_HZ = 100.0, 5000.0
"""The bands that are told in figures: below lies the room, above hardly anything of a guitar amp."""


def proof(sound: SheetSound) -> Markup:
    """Return the reference phrase with its figures, and what to do with them."""
    if sound.phrase is None or sound.told is None:
        return tag("p", "There are no figures: ", tag("bdi", sound.untold), class_="missing")
    told = sound.told
    return joined(
        [
            _where(sound, sound.phrase),
            _how(sound, sound.phrase),
            _levels(told),
            _thirds(told),
        ]
    )


def pictures(sound: SheetSound) -> Markup:
    """Return the spectrum of all microphones, and each one's waveform."""
    told = sound.told
    if told is None:
        return Markup("")
    waves = [_wave(one) for one in told.files if one.wave]
    return joined([_spectrum(told), *waves])


# ------------------------------------------------------------------ where and how


def _where(sound: SheetSound, phrase: ReferencePhrase) -> Markup:
    first, last = _seconds(sound, phrase)
    why = "that of the kept sound " if phrase.sound else "the loudest stretch"
    lies = [f"{moment(first)} to {moment(last)} of the DI"]
    lies += [phrase.bars] if phrase.bars else []
    return facts(
        [
            ("Phrase", joined([", ".join(lies), "; ", why, own(phrase.sound)])),
            ("Frames", f"{phrase.from_frame} to {phrase.from_frame + phrase.frames - 1}"),
            ("DI", joined([own(sound.variant.di.path), f", channel {sound.variant.di.channel}"])),
            ("Two takes in a row differ by", _floor(phrase)),
        ]
    )


def _floor(phrase: ReferencePhrase) -> Markup:
    if phrase.floors:
        return items([own(one) for one in phrase.floors])
    return tag("span", "not known: nobody kept this sound with secondpass set --step sound")


def _seconds(sound: SheetSound, phrase: ReferencePhrase) -> tuple[float, float]:
    rate = sound.variant.sample_rate
    return phrase.from_frame / rate, (phrase.from_frame + phrase.frames) / rate


def _how(sound: SheetSound, phrase: ReferencePhrase) -> Markup:
    first, last = _seconds(sound, phrase)
    steps = [
        "Set the chain as on the card and let the amp warm up: valves need 20 to 30 minutes.",
        *_with_the_program(sound, phrase),
        joined(
            [
                f"By hand: send the DI from {first:.3f} s to {last:.3f} s with the trim above,",
                " record each microphone and compare with the tables below. Begin with the level, then the",
                " third octaves, then the noise.",
            ]
        ),
    ]
    return tag("ol", *(tag("li", one) for one in steps), class_="how")


def _with_the_program(sound: SheetSound, phrase: ReferencePhrase) -> list[Markup]:
    variant = sound.variant
    if why := _cannot(sound, phrase):
        return [tag("span", f"The program cannot compare it by itself: {why}.")]
    name = phrase.sound or f"{variant.part} {variant.number:03d}"
    words = ["secondpass", "set", "DIR", "--step", "sound", "--part", variant.part]
    words += ["--chain", sound.chain_name, "--sound", name]
    return [
        joined(
            [
                "With the program, DIR being the session's folder: ",
                tag("code", " ".join(shlex.quote(one) for one in words), dir="ltr"),
                " plays it round and round and says what is different while knobs are turned.",
            ]
        )
    ]


def _cannot(sound: SheetSound, phrase: ReferencePhrase) -> str:
    """Return why `set --step sound` has nothing to hold this sound against; empty where it has."""
    variant = sound.variant
    if variant.revision != sound.newest_revision:
        return f"it was made of edit {variant.revision}, and the newest is {sound.newest_revision}"
    if phrase.sound:
        return ""
    if variant.covers is not None:
        return "it is a section"
    if variant.state == "stopped":
        return "it was stopped before its end"
    return ""


# ------------------------------------------------------------------ tables


def _levels(told: SoundTold) -> Markup:
    head = ("", "RMS", "peak", "true peak", "crest", "loudness", "noise", "hum")
    rows = [_row(own(one.name), one) for one in told.files]
    rows += [_row(_original(one), one) for one in told.originals]
    rows.append(_row("the DI, before the trim", told.di))
    return table(
        "Over the phrase: dBFS, true peak in dBTP, crest in dB, loudness in LUFS", head, rows
    )


def _row(name: str, one: FileTold) -> tuple[str, ...]:
    levels = one.levels
    hum = UNKNOWN if one.hum_dbfs is None else f"{db(one.hum_dbfs)} at {one.hum_hz} Hz"
    known = (levels.rms_dbfs, levels.peak_dbfs, levels.true_peak_dbtp)
    return (
        name,
        *map(db, known),
        db(one.crest_db) if levels.frames else UNKNOWN,
        db(levels.loudness_lufs),
        db(one.noise_dbfs),
        hum,
    )


def _thirds(told: SoundTold) -> Markup:
    bands = [band.hz for band in told.di.levels.thirds if LOWEST_HZ <= band.hz <= HIGHEST_HZ]
    head = ["Hz", *map(_hz, bands)]
    rows = [_bands(own(one.name), one) for one in told.files]
    rows += [_bands(_original(one), one) for one in told.originals]
    return table("Third-octave levels over the phrase, dBFS", head, rows, kind="bands")


def _bands(name: str, one: FileTold) -> tuple[str, ...]:
    told = (band for band in one.levels.thirds if LOWEST_HZ <= band.hz <= HIGHEST_HZ)
    return (name, *(db(band.dbfs) for band in told))


def _hz(hz: float) -> str:
    return shortest(hz) if hz < 1000.0 else f"{shortest(hz / 1000.0)}k"


def _original(one: FileTold) -> Markup:
    return joined(["original ", own(one.name)])


# ------------------------------------------------------------------ pictures


def _spectrum(told: SoundTold) -> Markup:
    keys = [joined([tag("b", str(at)), " ", own(one.name)]) for at, one in _numbered(told.files)]
    keys += [
        joined([tag("b", chr(ord("a") + (at - 1) % 26)), " ", _original(one)])
        for at, one in _numbered(told.originals)
    ]
    alt = (
        "Third-octave levels over frequency, each line over its own loudness:"
        f" {', '.join(one.name for one in told.files)}"
    )
    if told.originals:
        alt += f"; originals: {', '.join(one.name for one in told.originals)}"
    caption = joined(
        ["Third octaves over the phrase, all at the same loudness: ", joined(keys, ", ")]
    )
    return drawing(told.thirds, alt=alt, caption=caption)


def _numbered(files: Sequence[FileTold]) -> list[tuple[int, FileTold]]:
    return list(enumerate(files, start=1))


def _wave(one: FileTold) -> Markup:
    alt = f"Waveform of {one.name}, over the seconds of the DI; the phrase is shaded"
    caption = joined([own(one.name), ", the whole recording; the phrase is shaded"])
    return drawing(one.wave, alt=alt, caption=caption)
