"""Our pass against the script an engineer could write (``plain_script.py``), in the same JACK room.

DIs of real playing through a plain path, a cabinet, and a driven amp before an inverted microphone at a
cabinet, each DI through each path once by ``secondpass pass`` and once by the script. The truth is the
room's own: the round trip to the path's first tap, and how the path is wired. Printed: placement error in
frames, polarity, largest memory of all processes, seconds beyond the DI's own length (starting the
programs, clicks, tail and writing included). Nothing was tuned on these DIs or paths.

No goals were set for memory and seconds. For placement they are the project's: within 0.6 frame of the
truth through a plain path (rounded to whole frames, as files are), within 3 through a cabinet, polarity
never wrong. ``--seconds`` sets the length of each DI (20); ``--short`` leaves the riff only.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import msgspec
import report
import soundfile
from jackroom import rig, spec
from material import RATE, Floats, palm_muted, slow_chords, write_di
from playing import phrase
from processes import MB, descendants, peak_rss_bytes

PERIOD = 512
SEND = 3
SCRIPT = Path(__file__).with_name("plain_script.py")
SECONDPASS = Path(sys.executable).with_name("secondpass")
LOOK_S = 0.1

PATHS = {
    "plain": spec.Path(output=SEND, input=1, delay_frames=131.37, gain=0.5, noise_rms=1e-4),
    "cabinet": spec.Path(
        output=SEND, input=2, delay_frames=171.62, gain=0.5, cabinet=True, noise_rms=1e-4
    ),
    "amp, cabinet": spec.Path(
        output=SEND,
        input=3,
        delay_frames=203.81,
        gain=0.3,
        inverted=True,
        drive=20.0,
        cabinet=True,
        noise_rms=1e-4,
    ),
}
GOAL_FRAMES = {"plain": 0.6, "cabinet": 3.0, "amp, cabinet": 3.0}


@dataclass(frozen=True)
class Placed:
    """Where one of the two put a return."""

    error: float | None
    """Frames removed less the true round trip; None where nothing was placed."""
    polarity: str
    """``right``, ``wrong`` or ``unsure``."""
    peak_bytes: int
    beyond_s: float
    verdict: str = ""


def main() -> None:
    """Run every DI through every path, twice, and print both."""
    parser = report.options(__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    said = parser.parse_args()
    seconds = 5.0 if said.short else said.seconds
    pairs: list[tuple[Placed, Placed]] = []
    with (
        tempfile.TemporaryDirectory(prefix="bench-script-") as folder,
        rig.jack_room(rate=RATE, period=PERIOD, paths=tuple(PATHS.values())) as room,
    ):
        report.conditions(f"JACK, {PERIOD} frames, {RATE} Hz, DIs of {seconds:g} s")
        for name, samples in list(all_dis(seconds).items())[-1 if said.short else 0 :]:
            di = write_di(Path(folder) / f"{name}.wav", samples)
            for path in PATHS:
                pair = ours(room, di, path), script(room, di, path)
                told(name, path, *pair)
                pairs.append(pair)
    for who, runs in zip(("pass", "script"), zip(*pairs, strict=True), strict=True):
        summed_up(who, runs)


def all_dis(seconds: float) -> dict[str, Floats]:
    """Return the DIs: two phrases of notes and chords, slow chords, and a palm-muted riff."""
    return {
        "phrase 21": phrase(rate=RATE, seconds=seconds, seed=21),
        "phrase 22": phrase(rate=RATE, seconds=seconds, seed=22),
        "slow chords": slow_chords(seconds=seconds),
        "palm-muted riff": palm_muted(seconds=seconds, seed=5),
    }


def told(di: str, path: str, ours: Placed, theirs: Placed) -> None:
    """Print what both made of one DI through one path."""
    goal = GOAL_FRAMES[path]
    for who, placed in (("pass", ours), ("script", theirs)):
        name = f"{di}, {path}: {who}"
        off = "not placed" if placed.error is None else f"{placed.error:+.2f} frames"
        right = (
            placed.error is not None and abs(placed.error) <= goal and placed.polarity != "wrong"
        )
        where = f"{off}, {placed.polarity}"
        if who == "pass":
            report.figure(name, where, f"within {goal:g}, not wrong", right)
        else:
            report.figure(name, where)
        more = f"{placed.peak_bytes / MB:.0f} MB, {placed.beyond_s:.1f} s"
        report.figure("    memory, seconds beyond the DI", more, placed.verdict)


def summed_up(who: str, runs: tuple[Placed, ...]) -> None:
    """Print the worst of all runs, and the usual seconds."""
    errors = [abs(run.error) for run in runs if run.error is not None]
    wrong = sum(run.polarity == "wrong" for run in runs)
    report.figure(f"{who}: worst placement", f"{max(errors):.2f} frames")
    report.figure(
        f"{who}: not placed, wrong polarity", f"{len(runs) - len(errors)}, {wrong} of {len(runs)}"
    )
    report.figure(f"{who}: most memory", f"{max(run.peak_bytes for run in runs) / MB:.0f} MB")
    beyond = statistics.median(run.beyond_s for run in runs)
    report.figure(f"{who}: seconds beyond the DI, median", f"{beyond:.1f} s")


# ---------------------------------------------------------------- one run of each


def ours(room: rig.JackRoom, di: Path, path: str) -> Placed:
    """Run ``secondpass pass`` in a new session."""
    one = PATHS[path]
    with tempfile.TemporaryDirectory(prefix="bench-script-") as scratch:
        wiring, session = Path(scratch) / "wiring.yaml", Path(scratch) / "session"
        returns = [{"name": "mic", "input": one.input}]
        wiring.write_text(room.wiring_text(returns=returns, reference="mic"))
        run(room, SECONDPASS, "new", session, "--di", di, "--wiring", wiring)
        what = (SECONDPASS, "pass", session, "--part", di.stem, "--chain", "bare path", "--json")
        said, took, peak = run(room, *what)
    variant = msgspec.json.decode(said)
    heard = variant["files"][0]["polarity"]
    placed = variant["delay_frames"] is not None
    return Placed(
        error=variant["shift_frames"] - room.round_trip(one.input) if placed else None,
        polarity=told_polarity(one, None if heard == "unsure" else heard == "inverted"),
        peak_bytes=peak,
        beyond_s=took - seconds_of(di),
        verdict=f"verdict {variant['verdict']}",
    )


def script(room: rig.JackRoom, di: Path, path: str) -> Placed:
    """Run the script."""
    one = PATHS[path]
    with tempfile.TemporaryDirectory(prefix="bench-script-") as scratch:
        out = Path(scratch) / "placed.wav"
        what = (sys.executable, SCRIPT, di, room.spec.name, SEND, one.input, out)
        said, took, peak = run(room, *what)
    found = msgspec.json.decode(said)
    return Placed(
        error=found["shift"] - room.round_trip(one.input),
        polarity=told_polarity(one, found["inverted"]),
        peak_bytes=max(peak, found["peak_bytes"]),
        beyond_s=took - seconds_of(di),
    )


def told_polarity(path: spec.Path, inverted: bool | None) -> str:
    """Return whether a polarity is the path's."""
    if inverted is None:
        return "unsure"
    return "right" if inverted == path.inverted else "wrong"


def seconds_of(di: Path) -> float:
    """Return how long a DI plays."""
    return float(soundfile.info(di).duration)


def run(room: rig.JackRoom, *what: object) -> tuple[bytes, float, int]:
    """Return what a program printed, its seconds, and the largest memory of it and its children."""
    began = time.monotonic()
    process = subprocess.Popen(
        [str(word) for word in what],
        env=room.env,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    peaks: dict[int, int] = {}
    while True:
        for pid in descendants(process.pid):
            peaks[pid] = max(peaks.get(pid, 0), peak_rss_bytes(pid))
        try:
            said, complained = process.communicate(timeout=LOOK_S)
            break
        except subprocess.TimeoutExpired:
            continue
    if process.returncode not in (0, 1):
        raise RuntimeError(f"{what[0]} ended with {process.returncode}: {complained.decode()}")
    return said, time.monotonic() - began, sum(peaks.values())


if __name__ == "__main__":
    main()
