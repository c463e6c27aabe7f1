"""Sessions that tests begin from."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import msgspec

from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.order import Order
from audio.vocab.results import AudioFacts, ClickReading
from audio.vocab.variant import ChainAsSet, DiUsed, Variant, VariantFile
from audio.vocab.wiring import PortAudioDevice, Return, Wiring

WIRING_TEXT = """\
# our room
name: room
device: {kind: simulated}
sample_rate: 48000
send: {output: 3}
returns: [{name: close, input: 2}]   # the good one
"""
"""A wiring as an engineer would have written it, a comment in it."""

NOON = "2026-11-25T12:00:00+01:00"


def noon() -> str:
    return NOON


def tree(folder: Path) -> dict[str, bytes | None]:
    """Return everything below a folder: content of files, None for anything else."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


def recording(path: Path, content: bytes = b"RIFF") -> tuple[Path, AudioFacts]:
    """Write a file (a session copies bytes and never looks into them) and say what it is."""
    path.write_bytes(content)
    return path, facts_of(path)


def facts_of(path: Path, *, channels: int = 2, container: str = "WAV") -> AudioFacts:
    return AudioFacts(
        path=str(path),
        container=container,
        encoding="PCM_24",
        sample_rate=48000,
        channels=channels,
        frames=1000,
        time_reference=0,
        file_sha256=hashlib.sha256(path.read_bytes()).hexdigest(),
        channel=0,
        peak_dbfs=-3.0,
        loudest_dbfs=-12.0,
    )


def session_with_a_part(folder: Path, *, part: str = "rhythm-left") -> Session:
    """Make ``folder/harbour-lights`` with one part; the DI it came from lies beside it."""
    session = create(folder / "harbour-lights", name="harbour lights", song="harbour lights")
    source, facts = recording(folder / "edit.wav")
    return session.add_part(source=source, facts=facts, name=part, clock=noon)


WIRING = Wiring(
    name="tracking room",
    device=PortAudioDevice(host="JACK Audio Connection Kit", name="reamp-room"),
    sample_rate=48000,
    send_output=3,
    returns=(Return(name="close", input=2),),
    reference="close",
)
DI = DiUsed(
    path="di/rhythm-left.r1.wav", channel=1, file_sha256="ab" * 32, frames=1000, peak_dbfs=-3.0
)
READING = ClickReading(delay_frames=1155.37, noise_dbfs=-80.0, peak_dbfs=-20.0)


def order(number: int = 1, *, part: str = "rhythm-left") -> Order:
    return Order(
        number=number,
        part=part,
        revision=1,
        song="harbour lights",
        chain=ChainAsSet(name="fuzz", content={"pedals": ["fuzz"]}),
        made_at=NOON,
        wiring=WIRING,
        di=DI,
        di_loudest_dbfs=-12.0,
        trim_db=-3.0,
        time_reference=2**33,
        lead_in_frames=48000,
        shift_frames=1155,
        delay_frames=1155.37,
        plus_minus_frames=0.02,
        delay_source="opening click",
        chain_adds_frames=None,
        train=None,
        opening_click=(READING,),
        witness_click=None,
        paths=("passes/rhythm-left/001/a.wav",),
    )


def variant(number: int = 1, *, part: str = "rhythm-left") -> Variant:
    return Variant(
        number=number,
        part=part,
        revision=1,
        song="harbour lights",
        chain=ChainAsSet(name="fuzz"),
        state="kept",
        verdict="good",
        findings=(),
        made_at=NOON,
        sample_rate=48000,
        di=DI,
        trim_db=-3.0,
        time_reference=2**33,
        align_to="di",
        delay_frames=1155.37,
        plus_minus_frames=0.02,
        shift_frames=1155,
        residual_frames=0.37,
        delay_source="opening click",
        chain_adds_frames=None,
        dropouts=(),
        clock_ppm=None,
        setup={"wiring": "tracking room"},
        opening_click=(READING,),
        closing_click=(),
        files=(),
    )


class CrashError(BaseException):
    """The process ends here: nothing below may catch it."""


def crash(*_: object, **__: object) -> None:
    raise CrashError


def variant_file(name: str, path: str, **changes: Any) -> VariantFile:
    """Return what a pass says of one return: plain values, but for what the test is about."""
    usual = VariantFile(
        return_name=name,
        input=2,
        path=path,
        frames=1000,
        audio_sha256="ab" * 32,
        peak_dbfs=-6.0,
        clipped_runs=0,
        loudness_lufs=-20.0,
        polarity="normal",
        extra_delay_frames=None,
        noise_dbfs=None,
        hum_hz=None,
        hum_dbfs=None,
    )
    return msgspec.structs.replace(usual, **changes)
