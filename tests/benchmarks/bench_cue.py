"""Ten minutes with a cue: does it stay on the frames of the DI, and does anything of it reach the send?

One roll of ten minutes in the simulated room, as fast as the machine can, plays a noise as the DI, another
one as the backing track, and a count-in; send and listen outputs are recorded as they leave. Every second
the backing on the first listen output is laid against its file by cross-correlation, and so is the send
against the DI: goal, both at the same frame all the time. The send is compared with that of a second roll
without a cue, bit for bit; nothing may differ, and none of the cue's correlation may be found in it.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import report
import soundfile
from numpy.typing import NDArray

from audio.files.source import SourceFile
from audio.jobs.cue_sources import PlannedCue, Stretch, cue_sources
from audio.jobs.deck import Deck
from audio.jobs.rolls import sounding_outputs
from audio.jobs.telling import Telling
from audio.vocab.messages import Capture, Source
from audio.vocab.wiring import Cue, Microphone, Return, SimulatedDevice, Wiring
from audio.work.client import Worker

RATE = 48_000
SEED = 24_000
MINUTES, SHORT_MINUTES = 10.0, 0.5
LEAD_IN = 12_000
LATER = 4_321
"""The backing track begins so many frames after the DI, by their time stamps."""
REACH = 2_000
GAIN_DB = -6.0

WIRING = Wiring(
    name="cue",
    device=SimulatedDevice(
        pace="free", inputs=4, outputs=4, microphones=(Microphone(input=2, cabinet="none"),)
    ),
    sample_rate=RATE,
    send_output=3,
    returns=(Return(name="close", input=2),),
    reference="close",
    listen_outputs=(1, 2),
    cue=Cue(backing_db=GAIN_DB),
)

Floats = NDArray[np.float64]


def main() -> None:
    """Print the figures."""
    said = report.options(__doc__).parse_args()
    frames = round((SHORT_MINUTES if said.short else MINUTES) * 60 * RATE)
    report.conditions(f"{frames / RATE / 60:g} minutes at {RATE} Hz, seed {SEED}")
    with tempfile.TemporaryDirectory(prefix="bench-cue-") as scratch:
        folder = Path(scratch)
        noise(folder / "di.wav", frames, SEED)
        noise(folder / "backing.wav", frames, SEED + 1)
        rolled(folder, frames, "with", cue=True)
        rolled(folder, frames, "without", cue=False)
        compare(folder, frames)


def noise(path: Path, frames: int, seed: int) -> None:
    """Write a noise of 24 bits, a minute at a time."""
    draw = np.random.default_rng(seed)
    with soundfile.SoundFile(path, "w", RATE, 1, "PCM_24") as file:
        for at in range(0, frames, 60 * RATE):
            file.write(draw.uniform(-0.3, 0.3, min(60 * RATE, frames - at)))


def rolled(folder: Path, frames: int, name: str, *, cue: bool) -> None:
    """Play the DI, beside it the cue or nothing, and record what leaves."""
    di = Source(
        path=str(folder / "di.wav"),
        at_frame=LEAD_IN,
        outputs=sounding_outputs(WIRING),
        reaches_send=True,
    )
    captures = tuple(
        Capture(path=str(folder / f"{name}-{output}.wav"), outputs=(output - 1,), depth=24)
        for output in (WIRING.send_output, *WIRING.listen_outputs)
    )
    with Worker() as worker, Deck(WIRING, Telling(lambda _: None, lambda: False)) as deck:
        facts = worker.inspect(folder / "backing.wav")
        planned = PlannedCue(
            lead_in_frames=LEAD_IN,
            stretch=Stretch(time_reference=LATER, frames=frames),
            backing=facts,
        )
        with cue_sources(deck, planned) as beside:
            deck.play(
                what="pass",
                length_frames=LEAD_IN + frames,
                sources=(di, *(beside if cue else ())),
                captures=captures,
            )


def compare(folder: Path, frames: int) -> None:
    """Look at what left, second by second."""
    files = {path.stem: SourceFile(path) for path in folder.glob("*.wav")}
    cue_at, send_at, loudest, differs = set(), set(), 0.0, 0
    for at in range(RATE, frames - 2 * RATE, RATE):
        piece = {
            name: file.read(at - REACH, RATE + 2 * REACH, channel=0) for name, file in files.items()
        }
        known = {name: piece[name][REACH:-REACH] for name in ("di", "backing")}
        # Where they should lie: the DI behind the lead-in, the backing where the time stamps put it.
        send = files["with-3"].read(at + LEAD_IN - REACH, RATE + 2 * REACH, channel=0)
        heard = files["with-1"].read(at + LEAD_IN - LATER - REACH, RATE + 2 * REACH, channel=0)
        send_at.add(place(send, known["di"])[0])
        cue_at.add(place(heard, known["backing"])[0])
        leak = files["with-3"].read(at + LEAD_IN - LATER - REACH, RATE + 2 * REACH, channel=0)
        loudest = max(loudest, place(leak, known["backing"])[1])
        alone = files["without-3"].read(at + LEAD_IN - REACH, RATE + 2 * REACH, channel=0)
        differs += int(np.count_nonzero(send != alone))
    for file in files.values():
        file.close()
    report.figure("places of the send, frames", f"{sorted(send_at)}", "only 0", send_at == {0})
    report.figure("places of the cue, frames", f"{sorted(cue_at)}", "only 0", cue_at == {0})
    report.figure("samples of the send that a cue changes", f"{differs}", "0", differs == 0)
    report.figure("correlation of cue and send, largest", f"{loudest:.3f}")


def place(heard: Floats, known: Floats) -> tuple[int, float]:
    """Return where a stretch lies, frames from where it should, and its correlation there."""
    size = 1 << (heard.size + known.size).bit_length()
    cross = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(known, size)), size)
    near = np.abs(cross[: 2 * REACH + 1])
    top = int(np.argmax(near))
    power = float(np.sqrt(np.dot(heard[top : top + known.size], heard[top : top + known.size])))
    return top - REACH, float(near[top]) / max(power * float(np.sqrt(np.dot(known, known))), 1e-20)


if __name__ == "__main__":
    main()
