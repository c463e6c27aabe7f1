"""Drop-ins through random rooms: bit for bit outside the joints, and nothing to be heard at them.

For each seed from 22,000 on (none of them was looked at while the joints were written) a real phrase of
eight seconds is played whole and again over a stretch of it, through a chain and a room that the seed draws
(drive, compressor, echo, reverb; no modulation, whose takes cannot match), and the stretch is dropped into
the whole. Goals: every sample outside the fades is one of the two recordings'; at a joint no step from
sample to sample is larger than three times the largest that either recording makes there itself; the level
through a joint within 0.1 dB on tones, 82 Hz to 3 kHz at eight phases each. In rooms the level is shown
beside what the two recordings, weighed as the fade weighs them, have on average in those few milliseconds.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import report
import soundfile
from numpy.typing import NDArray

from audio.files.inspect import inspect
from audio.jobs.deck import Deck
from audio.jobs.drop_ins import drop_in
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.talk import Silent
from audio.measure.fades import rise
from audio.measure.joints import correlation_at, gains
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.section_text import parse_section
from audio.vocab.variant import Variant
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text
from audio.work.client import Worker

RATE = 48_000
FIRST_SEED = 22_000
ROOMS, SHORT_ROOMS = 30, 2
STEP_GOAL, TONE_GOAL_DB = 3.0, 0.1

Floats = NDArray[np.float64]


def main() -> None:
    """Print the figures."""
    parser = report.options(__doc__)
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    said = parser.parse_args()
    rooms = SHORT_ROOMS if said.short else ROOMS
    report.conditions(f"{rooms} rooms from seed {said.first_seed}, {RATE} Hz")
    tones()
    steps, levels, wrong = [], [], 0
    for seed in range(said.first_seed, said.first_seed + rooms):
        found = tried(seed)
        wrong += found[0]
        steps += found[1]
        levels += found[2]
    worst, level = max(steps), max(levels)
    report.figure("samples outside the fades that are neither's", f"{wrong}", "0", wrong == 0)
    name = "largest step at a joint, over its surroundings'"
    report.figure(name, f"{worst:.2f}", "3", worst <= STEP_GOAL)
    report.figure("level through a joint in a room, median", f"{float(np.median(levels)):.3f} dB")
    report.figure("the same, worst", f"{level:.2f} dB")


def tones() -> None:
    """Fade tones into themselves at all phases; look at the level sample by sample."""
    worst, frames = 0.0, 720
    at = np.arange(8 * frames)
    for hz in np.geomspace(82.0, 3000.0, 12):
        for phase in (
            np.arange(8) * np.pi / 8.0
        ):  # up to a right angle and beyond; opposite tones cancel
            turned = min(phase, 2.0 * np.pi / 3.0)
            one, other = (np.exp(1j * (2 * np.pi * hz / RATE * at + p)) for p in (0.0, turned))
            middle = at.size // 2
            r = correlation_at(one.real.copy(), other.real.copy(), middle, fade=frames)
            goes, comes = gains(r, frames)
            part = slice(middle - frames // 2, middle + frames // 2)
            level = 20.0 * np.log10(np.abs(goes * one[part] + comes * other[part]))
            worst = max(worst, float(np.max(np.abs(level))))
    report.figure(
        "level through a joint on a tone, worst", f"{worst:.3f} dB", "0.1 dB", worst <= TONE_GOAL_DB
    )


def tried(seed: int) -> tuple[int, list[float], list[float]]:
    """Return what is wrong with one drop-in: samples, steps at its joints, levels through them."""
    draw = np.random.default_rng(seed)
    with tempfile.TemporaryDirectory(prefix="bench-drop-in-") as scratch:
        session, wiring = evening(Path(scratch), draw)
        first = float(draw.uniform(2.2, 4.0))
        piece = parse_section(f"{first:.2f}-{first + float(draw.uniform(0.8, 2.0)):.2f} s")
        with Deck(wiring, Silent()) as deck:
            known = Known()
            whole, part = (
                run_pass(
                    deck, session, part_name="riff", chain="drawn", known=known, section=one
                ).variant
                for one in (None, piece)
            )
        with Worker() as worker:
            made = drop_in(session, worker, part="riff", base=whole.number, section=part.number)
        return looked_at(session, whole, part, made)


def looked_at(
    session: Session, whole: Variant, part: Variant, made: Variant
) -> tuple[int, list[float], list[float]]:
    """Compare the files, return by return."""
    wrong, steps, levels = 0, [], []
    joined, covers = made.joined, part.covers
    if joined is None or covers is None:
        raise ValueError("a drop-in says what it was made of")
    half = joined.fade_frames // 2 + 1
    for index in range(len(made.files)):
        base, section, new = (sound(session, one, index) for one in (whole, part, made))
        placed = np.zeros_like(base)
        there = section[: base.size - covers.from_frame]
        placed[covers.from_frame : covers.from_frame + there.size] = there
        before, inside = (
            slice(0, joined.from_frame - half),
            slice(joined.from_frame + half, joined.to_frame - half),
        )
        behind = slice(joined.to_frame + half, None)
        for stretch, source in ((before, base), (inside, placed), (behind, base)):
            wrong += int(np.count_nonzero(new[stretch] != source[stretch]))
        for at, goes, comes in ((joined.from_frame, base, placed), (joined.to_frame, placed, base)):
            fade = slice(at - half, at + half)
            around = slice(at - 8 * half, at + 8 * half)
            own = max(float(np.max(np.abs(np.diff(one[around])))) for one in (goes, comes))
            steps.append(float(np.max(np.abs(np.diff(new[fade])))) / max(own, 1e-9))
            levels.append(through(new[fade], goes[fade], comes[fade]))
    return wrong, steps, levels


def through(new: Floats, goes: Floats, comes: Floats) -> float:
    """Return by how much the power of a fade departs from what the two of it weigh, dB."""
    weight = rise(new.size)
    due = float(np.mean((1.0 - weight) * goes**2 + weight * comes**2))
    got = float(np.mean(new**2))
    return abs(10.0 * np.log10(got / due)) if min(got, due) > 1e-12 else 0.0


def sound(session: Session, variant: Variant, index: int) -> Floats:
    """Return one return of a variant, linear."""
    return np.asarray(soundfile.read(session.path(variant.files[index].path), dtype="float64")[0])


def evening(folder: Path, draw: np.random.Generator) -> tuple[Session, Wiring]:
    """Return a session with one phrase, and a room."""
    from playing import write_phrase  # noqa: PLC0415 - found beside the tests, once `report` was loaded

    pedals: list[dict[str, Any]] = [
        {"kind": "drive", "drive_db": float(draw.uniform(0.0, 36.0))},
        {"kind": "compressor", "ratio": float(draw.uniform(2.0, 6.0))},
        {"kind": "echo", "ms": float(draw.uniform(80.0, 500.0)), "feedback": 0.3, "mix": 0.3},
        {"kind": "reverb", "decay_s": float(draw.uniform(0.4, 1.5)), "mix": 0.2},
    ]
    chosen = tuple(one for one in pedals if draw.uniform() < 0.5)
    device = SimulatedDevice(
        pace="free",
        seed=int(draw.integers(1_000_000)),
        amp=Amp(drive_db=float(draw.uniform(0.0, 24.0))),
        microphones=(Microphone(input=2), Microphone(input=3, distance_cm=150.0)),
        noise_dbfs=-88.0,
        chains={"drawn": chosen},
    )
    wiring = Wiring(
        name="drawn",
        device=device,
        sample_rate=RATE,
        send_output=3,
        returns=(Return("close", 2), Return("room", 3)),
        reference="close",
        block_frames=2048,
        tail_s=4.0,
    )
    session = create(
        folder / "evening", name="evening", song="tide", wiring_text=wiring_text(wiring)
    )
    di = write_phrase(folder / "riff.wav", rate=RATE, seconds=8.0, seed=int(draw.integers(1000)))
    return session.add_part(source=di, facts=inspect(di), name="riff"), wiring


if __name__ == "__main__":
    main()
