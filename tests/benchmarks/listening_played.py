"""Real playing through four chains, flipped at random: clicks and gaps that none of the sounds has itself.

The variants are recorded in the simulated room, through two microphones; then they roll as they would
for people, on a device that is turned by hand, matched as the passes tell. What leaves goes through the
detector of edit joints, as does each sound alone; and, as a control, the same flips made without a fade.
"""

from __future__ import annotations

import queue
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import report
from material import RATE, palm_muted, write_di
from msgspec.structs import replace
from numpy.typing import NDArray
from playing import phrase

sys.path.append(str(report.TESTS / "engine"))
from hand import Hand, turn_while

from audio.engine.outlets import Outlets
from audio.engine.stream import Stream
from audio.jobs.deck import Deck
from audio.jobs.listening_ground import listening_ground
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.sessions import new_session
from audio.jobs.talk import Silent
from audio.measure.edit_joints import find_edit_joints
from audio.plan.listening import gains, layers
from audio.vocab.listening import ListeningNow
from audio.vocab.messages import Ended, Gain, Roll, Source, Span
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text
from audio.work.client import Worker

BLOCK = 512
EAR, SEND = 0, 2
PART = "played"
NEAR = 64
"""Frames within which a joint is the one that a sound has itself."""
GAP_MS = 1.0
CHAINS: dict[str, tuple[dict[str, Any], ...]] = {
    "plain": (),
    "drive": ({"kind": "drive", "drive_db": 18.0},),
    "echo": ({"kind": "echo", "ms": 320.0, "feedback": 0.3, "mix": 0.35},),
    "tremolo": ({"kind": "tremolo", "hz": 4.0, "depth": 0.6},),
}

Singles = NDArray[np.float32]


@dataclass(frozen=True)
class Found:
    """What was found in what left."""

    flips: int
    seconds: float
    own: int
    """Joints that the sounds have themselves, all of them together."""
    new: tuple[int, ...]
    """Roll frames of joints that no sound has there."""
    at_hard_flips: int
    """Of the control: flips without a fade at which a joint is told."""
    longest_gap_ms: float
    """Of silence to the last bit where the sound that was asked for has none."""


def flipped(folder: Path, *, seconds: float, minutes: float, seed: int) -> Found:
    """Record the variants, flip between them for some minutes, and look."""
    now = _recorded(folder, seconds=seconds, seed=seed)
    frames = round(minutes * 60 * RATE)
    alone = [_heard(now, [(0, one.key)], now.whole) for one in now.sounds]
    draw = np.random.default_rng(seed)
    flips = _flips(now, draw, frames)
    left = _heard(now, flips, frames)
    hard = _without_fades(now, flips, alone, frames)
    own = [{one.frame for one in find_edit_joints(sound, rate=RATE)} for sound in alone]
    there = np.array(sorted(set().union(*own)), dtype=np.int64)
    return Found(
        flips=len(flips) - 1,
        seconds=frames / RATE,
        own=len(there),
        new=tuple(
            one.frame
            for one in find_edit_joints(left, rate=RATE)
            if not _near(there, one.frame % now.whole)
        ),
        at_hard_flips=_told_at(hard, [at for at, _ in flips[1:]]),
        longest_gap_ms=_longest_run((left == 0.0) & (hard != 0.0)),
    )


def _near(frames: NDArray[np.int64], at: int) -> bool:
    return bool(len(frames)) and int(np.abs(frames - at).min()) <= NEAR


def _told_at(samples: Singles, flips: list[int]) -> int:
    found = np.array([one.frame for one in find_edit_joints(samples, rate=RATE)], dtype=np.int64)
    return sum(_near(found, at) for at in flips)


def _longest_run(true: NDArray[np.bool_]) -> float:
    """Return how long the longest run of true ones lasts, milliseconds."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], true, [False]))))
    return 1e3 * float((edges[1::2] - edges[::2]).max(initial=0)) / RATE


# ---------------------------------------------------------------- recorded


def _recorded(folder: Path, *, seconds: float, seed: int) -> ListeningNow:
    """Record a variant through each chain; return what rolls of them, but for the DI."""
    wiring = _room(seed)
    text = folder / "wiring.yaml"
    text.write_text(wiring_text(wiring))
    half = seconds / 2
    notes, chugs = phrase(rate=RATE, seconds=half, seed=seed), palm_muted(seconds=half, seed=seed)
    chugs *= np.abs(notes).max() / np.abs(chugs).max()
    di = write_di(folder / f"{PART}.wav", np.concatenate((notes, chugs)))
    with Worker() as worker:
        session, _ = new_session(
            folder / "session", dis=(di,), channel=1, wiring_path=text, song=None, bpm=None,
            metre=None, worker=worker,
        )  # fmt: skip
        known = Known()  # filled as passes go
        with Deck(wiring, Silent()) as deck:
            for chain in CHAINS:
                run_pass(deck, session, part_name=PART, chain=chain, known=known)
        now = listening_ground(session, worker, wiring, part_name=PART).now
    return replace(now, sounds=tuple(one for one in now.sounds if one.number is not None))


def _room(seed: int) -> Wiring:
    microphones = (
        Microphone(input=2, distance_cm=4.0, cabinet="closed back"),
        Microphone(input=3, distance_cm=90.0, cabinet="open back"),
    )
    device = SimulatedDevice(
        pace="free", inputs=4, outputs=4, seed=seed, amp=Amp(drive_db=12.0),
        microphones=microphones, noise_dbfs=-85.0, chains=CHAINS,
    )  # fmt: skip
    return Wiring(
        name="two microphones",
        device=device,
        sample_rate=RATE,
        send_output=SEND + 1,
        returns=(Return("close", 2), Return("room", 3)),
        reference="close",
        listen_outputs=(EAR + 1, EAR + 2),
    )


# ---------------------------------------------------------------- heard


def _flips(now: ListeningNow, draw: np.random.Generator, frames: int) -> list[tuple[int, str]]:
    """Return at which roll frame, a block's first, which sound is flipped to."""
    keys, flips = [one.key for one in now.sounds], [(0, now.sounds[0].key)]
    while (at := flips[-1][0] + BLOCK * int(draw.integers(4, 80))) < frames:
        others = [key for key in keys if key != flips[-1][1]]
        flips.append((at, str(draw.choice(others))))
    return flips


def _heard(now: ListeningNow, flips: list[tuple[int, str]], frames: int) -> Singles:
    """Return what people hear of so many frames; the whole part goes round."""
    device = Hand(rate=RATE, block_frames=BLOCK, channels=3, sample_format="float32")
    ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
    stream = Stream(
        device,
        outlets=Outlets(amp=frozenset({SEND}), ears=frozenset({EAR})),
        publish=lambda _: None,
        ended=ended.put,
        broken=sys.exit,
    )
    stream.start()
    try:
        start = stream.roll(_roll(now, flips[0][1]))
        for (at, _), (until, key) in zip(flips, [*flips[1:], (frames, "")], strict=True):
            _turn(device, max(start + until, start + at))
            if key:
                stream.gain(Gain(roll_id=1, gains=_gains(now, key)))
    finally:
        turn_while(device, stream.close, frames=BLOCK)
    sent: Singles = np.concatenate([block[:, EAR] for block in device.sent])
    return sent[start : start + frames]


def _roll(now: ListeningNow, key: str) -> Roll:
    sources = tuple(
        Source(path=layer.path, channel=layer.channel, at_frame=layer.at_frame,
               gain_db=layer.gain_db, outputs=((EAR, gain),))
        for layer, (_, _, gain) in zip(layers(now), _gains(now, key), strict=True)
    )  # fmt: skip
    whole = Span(start=0, end=now.whole)
    return Roll(roll_id=1, sources=sources, length_frames=1 << 40, loop=whole)


def _gains(now: ListeningNow, key: str) -> tuple[tuple[int, int, float], ...]:
    heard = gains(replace(now, heard=key))
    return tuple((row, EAR, gain) for row, gain in enumerate(heard))


def _turn(device: Hand, until: int) -> None:
    while device.frame < until:
        assert device.gate is not None
        device.gate(BLOCK)
        device.turn(min(BLOCK, until - device.frame))


def _without_fades(
    now: ListeningNow, flips: list[tuple[int, str]], alone: list[Singles], frames: int
) -> Singles:
    """Return the same flips, made from one sample to the next."""
    rows = {one.key: row for row, one in enumerate(now.sounds)}
    out = np.empty(frames, dtype=np.float32)
    at = np.arange(frames) % now.whole
    for (begins, key), (ends, _) in zip(flips, [*flips[1:], (frames, "")], strict=True):
        out[begins:ends] = alone[rows[key]][at[begins:ends]]
    return out
