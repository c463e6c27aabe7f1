"""One sound on the sheet, as somebody needs it who sets it up again."""

from __future__ import annotations

from audio.grid.note_values import nearest
from audio.handover.markup import Markup, facts, items, joined, own, photo, table, tag
from audio.handover.sheet_chain import chain_card
from audio.handover.sheet_figures import pictures, proof
from audio.handover.sheet_setup import set_up
from audio.handover.words import UNKNOWN, day, db
from audio.plan.evidence_proofs import proofs
from audio.plan.evidence_words import (
    later_ms,
    moment,
    placement,
    reference_at,
    reference_clicks,
    round_trip,
    steadiness,
)
from audio.vocab.balance import heard_db
from audio.vocab.choice import choice_words
from audio.vocab.findings import Finding, heaviest_first
from audio.vocab.results import ClickReading
from audio.vocab.sheet import PhotoLine, SheetSound
from audio.vocab.units import shortest, signed, with_sign
from audio.vocab.variant import Variant, VariantFile

_STATES = {
    "kept": "played to its end",
    "stopped": "stopped by hand or by the program; what was recorded until then is there",
    "recovered": "recovered after a crash or a power failure",
}

ANOTHER_ROOM = (
    "In another room, or after the next opening of the interface, the round trip is another one"
    " and is measured anew by the test click. What belongs to the sound are the distances between"
    " the microphones and what the chain itself adds."
)


def title_of(sound: SheetSound) -> Markup:
    """Return number and chain of a sound, and what it is called: its heading."""
    called = [" · ", own(sound.opinion.called)] if sound.opinion.called else []
    return joined([f"{sound.variant.number:03d} ", own(sound.chain_name), *called])


def sound_article(sound: SheetSound, *, at: str, where: Markup, seen: dict[bytes, str]) -> Markup:
    """Return all that is known of a sound.

    Parameters
    ----------
    sound
        The sound.
    at
        Its place in the page, an id.
    where
        Song and part.
    seen
        Photos that stand on the sheet already, with their places; those of this sound are added.

    Returns
    -------
    Markup
        An article.
    """
    parts = (
        ("The chain", chain_card(sound)),
        ("How the send was set", set_up(sound)),
        ("What came back", _returns(sound)),
        ("Delay and place in time", _delays(sound)),
        ("To prove it", proof(sound)),
        ("What it looks like", pictures(sound)),
        ("Photos", _photos(sound.photos, at, seen)),
    )
    head = tag(
        "header",
        tag("p", where, class_="where"),
        tag("h3", title_of(sound), id=f"{at}-name"),
        _head(sound),
    )
    rooms = [tag("section", tag("h4", name), what) for name, what in parts if what]
    return tag("article", head, *rooms, class_="sound", id=at, aria_labelledby=f"{at}-name")


# ------------------------------------------------------------------ head


def _head(sound: SheetSound) -> Markup:
    said, variant = sound.opinion, sound.variant
    kept = said.keeper
    verdict = joined([tag("b", variant.verdict), _findings(variant.findings)])
    pairs: list[tuple[str, str]] = [
        ("Kept", (own(kept.reason) if kept.reason else "yes, no reason given") if kept else ""),
        ("Rating", f"{said.rating} of 5" if said.rating else ""),
        ("Words", items([own(one) for one in said.words])),
        ("Listeners", items([own(choice_words(one)) for one in said.choices])),
        ("Made", f"{day(variant.made_at)}; {_STATES.get(variant.state, _made_of(variant))}"),
        ("Chain corrected", _corrected(sound)),
        ("Section", _section(variant)),
        ("DI", _edit(sound)),
        ("Verdict", verdict),
    ]
    return facts(pairs)


def _made_of(variant: Variant) -> str:
    one, rate = variant.joined, variant.sample_rate
    if one is None:
        return f"{variant.state}"
    return (
        f"a drop-in: {one.base:03d}, and from {moment(one.from_frame / rate)} to"
        f" {moment(one.to_frame / rate)} the section {one.section:03d},"
        f" faded over {1000 * one.fade_frames / rate:.0f} ms"
    )


def _corrected(sound: SheetSound) -> str:
    if not sound.opinion.chain:
        return ""
    return joined(["its files and record still say ", own(sound.variant.chain.name)])


def _section(variant: Variant) -> str:
    one, rate = variant.covers, variant.sample_rate
    if one is None:
        return ""
    first, last = (moment(at / rate) for at in (one.section_from_frame, one.section_to_frame))
    begins = moment(one.from_frame / rate)
    return joined(
        [own(one.text), f": {first} to {last} of the DI; its files begin at {begins} of it"]
    )


def _edit(sound: SheetSound) -> str:
    revision, newest = sound.variant.revision, sound.newest_revision
    later = f"; the newest edit is {newest}" if newest != revision else ""
    return joined([own(sound.variant.di.path), f", edit {revision}{later}"])


def _findings(findings: tuple[Finding, ...]) -> Markup:
    return items([_finding(one) for one in heaviest_first(findings)])


def _finding(one: Finding) -> Markup:
    place = f" at {moment(one.at_s)}" if one.at_s is not None else ""
    weight = f"{one.weight}: " if one.weight != "good" else ""
    return joined([weight, own(one.text), place, *([" ", own(one.advice)] if one.advice else [])])


# ------------------------------------------------------------------ microphones


def _returns(sound: SheetSound) -> Markup:
    variant = sound.variant
    if not variant.files:
        return tag("p", "Nothing was recorded.", class_="missing")
    head = (
        *("microphone", "input", "peak, dBFS", "loudness, LUFS", "clipped", "polarity"),
        *("later than the reference", "noise, dBFS", "hum, dBFS", "balance, dB"),
    )
    rows = [_return(sound, at, one) for at, one in enumerate(variant.files)]
    return table("The microphones, whole recording; noise before the pass", head, rows)


def _return(sound: SheetSound, at: int, one: VariantFile) -> tuple[str, ...]:
    variant = sound.variant
    amp = joined([" at ", own(one.amp)]) if one.amp else ""
    return (
        joined([own(one.return_name), amp]),
        str(one.input),
        db(one.peak_dbfs),
        db(one.loudness_lufs),
        "no" if not one.clipped_runs else f"{one.clipped_runs} ×",
        one.polarity,
        "reference" if at == reference_at(variant) else _later(one, variant.sample_rate),
        db(one.noise_dbfs),
        UNKNOWN if one.hum_dbfs is None else f"{db(one.hum_dbfs)} at {one.hum_hz} Hz",
        _balance(sound, one.return_name),
    )


def _later(one: VariantFile, rate: int) -> str:
    ms = later_ms(one, rate)
    if ms is None:
        return UNKNOWN
    cm = "" if one.extra_air_cm is None else f", {with_sign(one.extra_air_cm)} cm"
    return f"{with_sign(ms, digits=2)} ms{cm}"


def _balance(sound: SheetSound, name: str) -> str:
    said = sound.opinion
    gain = heard_db(said.keeper.balance if said.keeper else said.balance, name)
    return "off" if gain is None else shortest(round(gain, 1) + 0.0)


# ------------------------------------------------------------------ delays


def _delays(sound: SheetSound) -> Markup:
    variant = sound.variant
    first, _ = reference_clicks(variant)
    told = [tag("span", joined([tag("b", one.proof), ": ", one.words])) for one in proofs(variant)]
    pairs: list[tuple[str, str]] = [
        ("Round trip", _round(variant, first)),
        ("Placed", placement(variant)),
        ("The chain adds", _adds(variant)),
        ("Echo", _echo(sound)),
        ("Proof of the frames", joined(["by the ", joined([told[0]]), items(told[1:])])),
        ("Time stamp", f"{variant.time_reference} frames, as the DI has it where the files begin"),
    ]
    return joined([facts(pairs), tag("p", ANOTHER_ROOM, class_="hint")])


def _round(variant: Variant, first: ClickReading | None) -> str:
    steady = steadiness(first)
    return round_trip(variant).removeprefix("round trip ") + (f", {steady}" if steady else "")


def _adds(variant: Variant) -> str:
    frames, rate = variant.chain_adds_frames, variant.sample_rate
    if frames is None:
        return "not known: the bare path was not measured in the same stream"
    return f"{signed(1000 * frames / rate, digits=2)} ms over the bare path"


def _echo(sound: SheetSound) -> str:
    one = sound.variant.echo
    if one is None:
        return ""
    note = nearest(one.repeat_ms, bpm=sound.bpm) if sound.bpm else None
    near = (
        f"; {note.name} at {shortest(sound.bpm)} bpm is {note.ms:.1f}" if note and sound.bpm else ""
    )
    return (
        f"repeats every {one.repeat_ms:.1f} ± {one.plus_minus_ms:.1f} ms, the first repeat"
        f" {signed(one.level_db, digits=1)} dB{near}"
    )


# ------------------------------------------------------------------ photos


def _photos(photos: tuple[PhotoLine, ...], at: str, seen: dict[bytes, str]) -> Markup:
    return joined(_photo(one, f"{at}-photo-{number}", seen) for number, one in enumerate(photos, 1))


def _photo(one: PhotoLine, at: str, seen: dict[bytes, str]) -> Markup:
    if one.shown is None:
        return tag("p", own(one.name), ": ", tag("bdi", one.problem), class_="missing")
    if there := seen.get(one.shown.jpeg):
        link = tag("a", "shown above", href=f"#{there}")
        return tag("p", own(one.name), ": ", link)
    seen[one.shown.jpeg] = at
    return photo(one.shown, alt=f"Photo {one.name}", caption=own(one.name), at=at)
