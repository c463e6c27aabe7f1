"""How the send was set and how everything was wired, on the sheet."""

from __future__ import annotations

from collections.abc import Iterator

from audio.handover.markup import Markup, facts, items, joined, own, table, tag
from audio.handover.words import day
from audio.vocab.session_file import Recorded
from audio.vocab.setup import Row, SetupRecord
from audio.vocab.sheet import SheetSound
from audio.vocab.units import shortest, signed, with_sign
from audio.vocab.volts import volts_from_dbu
from audio.vocab.wiring import PortAudioDevice, Wiring


def set_up(sound: SheetSound) -> Markup:
    """Return trim, how the DI was recorded, wiring, and what each step of the set-up found."""
    return joined(
        [
            facts([*_send(sound), *(_wired(sound.wiring) if sound.wiring else _unwired())]),
            _records(sound.setup),
            _unset(sound.unset),
        ]
    )


def _send(sound: SheetSound) -> Iterator[tuple[str, str]]:
    trim = sound.variant.trim_db
    yield "Trim", _trim(trim)
    yield "The DI was recorded", _recorded(sound.recorded)
    full = sound.wiring.send_full_scale_dbu if sound.wiring else None
    if full is not None:
        dbu = full + sound.variant.di.peak_dbfs + trim
        told = (
            f"a full-scale sine is {signed(full, digits=1)} dBu; the DI's peak, as a sine's,"
            f" {signed(dbu, digits=1)} dBu ({volts_from_dbu(dbu):.3f} V RMS), before the reamp box"
        )
        yield "Level at the send", told


def _trim(db: float) -> str:
    if not db:
        return "0 dB: the DI leaves as it is in its file"
    way = "louder" if db > 0 else "quieter"
    return f"{with_sign(db, digits=1)} dB: the DI leaves {abs(db):.1f} dB {way} than its file"


def _recorded(known: Recorded | None) -> str:
    if known is None:
        return "nobody noted how"
    told = [
        f"into input {known.input}" if known.input is not None else "",
        own(known.box) if known.box else "",
        f"pad {shortest(known.pad_db)} dB" if known.pad_db is not None else "",
        joined(["gain at ", own(known.gain)]) if known.gain else "",
        f"0 dBFS is {shortest(known.full_scale_dbu)} dBu"
        if known.full_scale_dbu is not None
        else "",
    ]
    return joined([one for one in told if one], ", ") or "nobody noted how"


def _unwired() -> Iterator[tuple[str, str]]:
    yield "Wiring", "its record cannot be read; inputs stand at the microphones"


def _wired(wiring: Wiring) -> Iterator[tuple[str, str]]:
    device = wiring.device
    if isinstance(device, PortAudioDevice):
        what: str = joined([own(device.name), " (", own(device.host), ")"])
    else:
        what = "the simulated room: no hardware"
    yield "Wiring", own(wiring.name)
    yield "Interface", joined([what, f", {wiring.sample_rate} Hz, {wiring.depth} bit"])
    returns = [joined([own(one.name), f" on input {one.input}"]) for one in wiring.returns]
    witness = [f"witness on input {wiring.witness_input}"] if wiring.witness_input else []
    yield "Inputs", joined([*returns, *witness], ", ")
    yield "Outputs", joined(_outputs(wiring), ", ")
    yield "Placed by", joined(["the return ", own(wiring.reference)])
    yield "Air", f"{shortest(wiring.room_celsius)} °C, for distances told in centimetres"


def _outputs(wiring: Wiring) -> Iterator[str]:
    yield f"send on output {wiring.send_output}"
    if wiring.loop:
        yield f"loop cable from output {wiring.loop.output} to input {wiring.loop.input}"
    if wiring.listen_outputs:
        yield f"listening on {' and '.join(map(str, wiring.listen_outputs))}"


def _records(records: tuple[SetupRecord, ...]) -> Markup:
    if not records:
        return Markup("")
    rows = [
        (
            tag("span", one.step, class_="step"),
            day(one.made_at),
            joined([tag("p", tag("bdi", one.outcome.headline)), *_figures(one.outcome.rows)]),
        )
        for one in records
    ]
    return table("What the set-up found, as it was for this sound", ("step", "when", "found"), rows)


def _figures(rows: tuple[Row, ...]) -> Iterator[Markup]:
    told, name = [], ""
    for row in rows:
        name = row.name or name
        told.append(_figure(name, row))
    yield items(told, class_="figures")


def _figure(name: str, row: Row) -> Markup:
    """Return a figure with its name; a row without one belongs to the one above it."""
    target = ""
    if row.low is not None and row.high is not None:
        low, high = (signed(one, digits=row.digits) for one in (row.low, row.high))
        target = f" (target {low} to {high})"
    return joined([own(name), " ", tag("b", row.figure), target, " ", own(row.word)])


def _unset(steps: tuple[str, ...]) -> Markup:
    if not steps:
        return Markup("")
    return tag("p", "Not set, or not any more, when it was made: ", "; ".join(steps), ".")
