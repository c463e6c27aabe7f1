"""Ten minutes with a cue: does it stay on the frames of the DI, and does anything of it reach the send?

One roll of ten minutes in the simulated room, as fast as the machine can, plays a noise as the DI, a
count-in and a backing track of two channels: another noise, and the DI's own again. Send and listen outputs
are recorded as they leave. Second by second from the first to the last frame, the send is laid against the
DI, the first listen output against the backing's file, and the second one against the send, capture against
capture, by cross-correlation: goal, the same frame all the time. Every sample of the send is compared with
the DI, and with the send of a second roll that plays no cue: goal, no difference in a single bit.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import report
import soundfile
from numpy.typing import NDArray

from audio.files.source import SourceFile
from audio.grid.bars import bar_grid
from audio.grid.count_in import count_in
from audio.jobs.cue_sources import PlannedCue, Stretch, cue_sources
from audio.jobs.deck import Deck
from audio.jobs.rolls import sounding_outputs
from audio.jobs.telling import Telling
from audio.vocab.messages import Capture, Source
from audio.vocab.session_file import Song
from audio.vocab.wiring import Cue, Microphone, Return, SimulatedDevice, Wiring
from audio.work.client import Worker

RATE = 48_000
SEED = 24_000
MINUTES, SHORT_MINUTES = 10.0, 0.5
BPM, BARS = 97.3, 2
BEATS = 4 * BARS
LEAD_IN = 12_000 + round(BEATS * 60 * RATE / BPM)
"""Silence, then the count-in; the roll without a cue has the same, so both sends can be compared."""
EARLIER = 4_321
"""The backing track begins so many frames before the DI, by their time stamps."""
ONSET = 4
"""A click rises from zero: so many frames until it is told from silence."""
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
    cue=Cue(backing_db=GAIN_DB, count_in_bars=BARS),
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
        noise(folder / "backing.wav", frames, SEED + 1, SEED)
        rolled(folder, frames, "with", cue=True)
        rolled(folder, frames, "without", cue=False)
        look(folder, frames)


def noise(path: Path, frames: int, *seeds: int) -> None:
    """Write noises of 24 bits, a channel for each seed, a minute at a time."""
    draws = [np.random.default_rng(seed) for seed in seeds]
    with soundfile.SoundFile(path, "w", RATE, len(seeds), "PCM_24") as file:
        for at in range(0, frames, 60 * RATE):
            size = min(60 * RATE, frames - at)
            file.write(np.stack([draw.uniform(-0.3, 0.3, size) for draw in draws], axis=1))


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
    with (
        Worker() as worker,
        Deck(WIRING, Telling(lambda _: None, lambda: False)) as deck,
        cue_sources(deck, planned(worker, folder, frames)) as beside,
    ):
        deck.play(
            what="pass",
            length_frames=LEAD_IN + frames,
            sources=(di, *(beside if cue else ())),
            captures=captures,
        )


def planned(worker: Worker, folder: Path, frames: int) -> PlannedCue:
    """Return backing track and count-in to bar 1, which begins with the DI."""
    grid = bar_grid(Song(name="noise", bpm=BPM, metre="4/4"), time_reference=0, rate=RATE)
    assert grid is not None
    return PlannedCue(
        lead_in_frames=LEAD_IN,
        stretch=Stretch(time_reference=EARLIER, frames=frames),
        backing=worker.inspect(folder / "backing.wav"),
        counted=count_in(grid, bars=BARS, music_frame=0),
    )


def look(folder: Path, frames: int) -> None:
    """Look at what left."""
    files = {path.stem: SourceFile(path) for path in folder.glob("*.wav")}
    counted_in(files["with-1"])
    places(files, frames)
    every_sample(folder, frames)
    for file in files.values():
        file.close()


def counted_in(heard: SourceFile) -> None:
    """Look where clicks begin, in the silence before the backing track."""
    clicks = heard.read(0, LEAD_IN - EARLIER, channel=0)
    sounding = np.flatnonzero(np.abs(clicks) > 2.0**-22)
    begins = sounding[np.flatnonzero(np.diff(sounding, prepend=-RATE) > RATE // 10)]
    beats = LEAD_IN - np.arange(BEATS, 0, -1) * 60 * RATE / BPM
    report.figure("clicks", f"{len(begins)}", f"{BEATS}", len(begins) == BEATS)
    if len(begins) == BEATS:
        late = begins - beats
        value = f"{late.min():.1f} to {late.max():.1f}"
        met = bool(np.all((late >= -0.5) & (late <= ONSET)))
        report.figure("clicks behind their beats, frames", value, f"-0.5 to {ONSET}", met)


def places(files: dict[str, SourceFile], frames: int) -> None:
    """Lay captures against files and against each other, second by second."""
    send_at, cue_at, apart = set(), set(), set()
    leak, blocks = 0.0, range(0, frames - RATE + 1, RATE)
    for at in blocks:
        sent, heard = LEAD_IN + at, LEAD_IN - EARLIER + at
        known = files["backing"].read(at, RATE, channel=0)
        send_at.add(place(around(files["with-3"], sent), files["di"].read(at, RATE, channel=0))[0])
        cue_at.add(place(around(files["with-1"], heard), known)[0])
        as_sent = files["with-3"].read(sent, RATE, channel=0)
        apart.add(place(around(files["with-2"], heard), as_sent)[0])
        leak = max(leak, place(around(files["with-3"], heard), known)[1])
    report.figure("seconds laid against each other", f"{len(blocks)}")
    for name, found in (
        ("send against the DI, frames", send_at),
        ("cue against the backing track, frames", cue_at),
        ("cue against the send, capture to capture, frames", apart),
    ):
        report.figure(name, f"{sorted(found)}", "only 0", found == {0})
    report.figure("correlation of backing track and send, largest", f"{leak:.3f}")


def around(file: SourceFile, at: int) -> Floats:
    """Return a second of a capture, and what it could have been moved by."""
    return file.read(at - REACH, RATE + 2 * REACH, channel=0)


def every_sample(folder: Path, frames: int) -> None:
    """Compare the send with the DI, and with the send of the roll without a cue."""
    names = ("with-3", "without-3", "di")
    sounds = [soundfile.SoundFile(folder / f"{name}.wav") for name in names]
    lengths = {sound.frames for sound in sounds[:2]}
    report.figure(
        "samples of the send", f"{sorted(lengths)}", "lead-in and DI", lengths == {LEAD_IN + frames}
    )
    parts = [LEAD_IN, *(min(RATE, frames - at) for at in range(0, frames, RATE))]
    changed = strange = 0
    for number, size in enumerate(parts):
        beside, alone = (sound.read(size, dtype="int32") for sound in sounds[:2])
        di = sounds[2].read(size, dtype="int32") if number else np.zeros(size, dtype=np.int32)
        changed += int(np.count_nonzero(beside != alone))
        strange += int(np.count_nonzero(beside != di))
    for sound in sounds:
        sound.close()
    report.figure("of them changed by the cue", f"{changed}", "0", changed == 0)
    report.figure("of them not the DI's, nor silence before it", f"{strange}", "0", strange == 0)


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
