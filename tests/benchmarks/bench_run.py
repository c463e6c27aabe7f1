"""A run of three parts through six chains: faults in four of its passes, and killed at twenty moments.

Faults: in rooms drawn from the seed a cable dies, a return clips, frames are lost and hum comes up, each in
one pass of its own and in no other. The pedals feed two amps at once, with two microphones on the first and
one on the second. Each fault must be named for what it is, no other pass be anything but good, and all
variants of a part must lie within one frame of each other at each amp, by the room's own truth of each
chain's round trip. A pass to be done again is repeated once, as the run was told.

Kills: the program (-9) or all its processes at once die at moments drawn from the seed, half of those of
the program at an operation on a file; the run is gone on with until it is over. Lines, verdicts and numbers
must be those of a run nobody disturbed.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import tempfile
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import report
from kills.points import AtTime, Moment, drawn
from kills.runs import Attempt, attempt, prepare
from material import RATE, palm_muted, slow_chords, write_di
from playing import phrase

from audio.device.simulated.room import Room
from audio.jobs.orders import BeginRun, OpenStream, RunLine
from audio.jobs.sessions import new_session
from audio.session import records
from audio.session.folder import open_session
from audio.vocab.plan import PlanNow
from audio.vocab.variant import Variant
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text
from audio.work.client import Worker
from tui.verbs.run_desk import RunDesk

PARTS, CHAINS, KILLS = 3, 6, 20
CLOSE, FAR, SECOND = 2, 3, 5
AMPS = {CLOSE: "first", SECOND: "second"}
"""Microphone that tells where an amp lies, and the amp."""
WITHIN_FRAMES = 1.0

PEDALS: dict[str, tuple[dict[str, Any], ...]] = {
    "fuzz": ({"kind": "drive", "drive_db": 25.0},),
    "digital into fuzz": ({"kind": "digital", "ms": 2.4}, {"kind": "drive", "drive_db": 12.0}),
    "wah into fuzz": ({"kind": "wah", "hz": 900.0, "q": 3.0}, {"kind": "drive", "drive_db": 20.0}),
    "buffer and volume": ({"kind": "inverting buffer"}, {"kind": "volume", "open": 0.8}),
    "fuzz into echo": (
        {"kind": "drive", "drive_db": 18.0},
        {"kind": "echo", "ms": 320.0, "feedback": 0.3, "mix": 0.35},
    ),
    "tremolo": ({"kind": "tremolo", "hz": 4.0, "depth": 0.6},),
}


class Planted(NamedTuple):
    """A fault in one pass: the n-th through its chain."""

    fault: dict[str, Any]
    codes: frozenset[str]
    """One of them must be named first."""


PLANTED: dict[str, Planted] = {
    "dead cable": Planted(
        {"chain": "fuzz", "time": 1, "input": FAR, "after_sound_s": 2.0},
        frozenset({"silent-from", "dead-amp", "nothing-came-back"}),
    ),
    "clipping input": Planted(
        {"chain": "digital into fuzz", "time": 1, "input": CLOSE, "gain_db": 30.0,
         "after_sound_s": 1.0},
        frozenset({"clipped"}),
    ),
    "lost frames": Planted(
        {"chain": "wah into fuzz", "time": 3, "frames": 300, "after_sound_s": 1.5},
        frozenset({"frames-lost", "frames-slipped"}),
    ),
    "hum": Planted(
        {"chain": "buffer and volume", "time": 1, "hz": 50.0, "level_dbfs": -55.0,
         "after_sound_s": 1.0},
        frozenset({"hum-up"}),
    ),
}  # fmt: skip


def main() -> None:
    parser = report.options(__doc__)
    parser.add_argument("--seed", type=int, default=20_100, help="draws rooms and moments")
    parser.add_argument("--rooms", type=int, default=3, help="rooms in which faults are planted")
    parser.add_argument("--at-once", type=int, default=2, help="killed runs beside each other")
    parser.add_argument("--only", choices=["faults", "kills"])
    asked = parser.parse_args()
    report.conditions(f"a run of {PARTS} parts through {CHAINS} chains, seed {asked.seed}")
    if asked.only != "kills":
        for number in range(1 if asked.short else asked.rooms):
            _faults(asked.seed + number)
    if asked.only != "faults":
        _kills(asked)


# ---------------------------------------------------------------- faults


def _faults(seed: int) -> None:
    with tempfile.TemporaryDirectory(prefix="secondpass-run-") as folder:
        wiring = _room(seed)
        session = _session(Path(folder), wiring, seed)
        plan, looks = _run(session)
        found = records.variants(open_session(session)).found
    done = sum(line.state == "done" for line in plan.lines)
    report.figure(
        f"room {seed}: lines done", f"{done}", f"{PARTS * CHAINS}", done == PARTS * CHAINS
    )
    _named(found)
    report.figure("  looks collected", f"{len(looks)}", "1", len(looks) == 1)
    _placed(found, wiring)


def _run(session: Path) -> tuple[PlanNow, tuple[str, ...]]:
    """Run the plan in one stream; every go comes at once."""
    desk = RunDesk(session, threading.Event())
    try:
        desk.obey(OpenStream())
        desk.obey(BeginRun(repeat_redo=True))
        while desk.run.state in ("waiting", "held"):
            held = desk.run.state == "held"
            desk.obey(BeginRun(repeat_redo=True) if held else RunLine(key=desk.run.at))
        return desk.plan, desk.run.looks
    finally:
        desk.close()


def _named(found: Sequence[Variant]) -> None:
    """Tell which passes were not good, and whether they are those with something planted in them."""
    through: dict[str, list[Variant]] = {}
    for one in sorted(found, key=lambda one: (one.made_at, one.setup.get("opened_at", ""))):
        through.setdefault(one.chain.name, []).append(one)
    right = 0
    for kind, planted in PLANTED.items():
        bad = [one for one in through[planted.fault["chain"]] if one.verdict != "good"]
        codes = [f.code for one in bad for f in one.findings if f.weight == one.verdict]
        ok = len(bad) == 1 and bool(planted.codes & set(codes))
        right += ok
        report.figure(f"  {kind}", ", ".join(codes) or "nothing", "named, once", ok)
    wrong = [
        f"{one.part} {one.number} through {one.chain.name}: {one.verdict}"
        for one in found
        if one.verdict != "good"
        and one.chain.name not in {p.fault["chain"] for p in PLANTED.values()}
    ]
    report.figure(
        "  faults named for the right reason", f"{right} of 4", "4 of 4", right == len(PLANTED)
    )
    report.figure("  other passes that are not good", f"{len(wrong)}", "0", not wrong)
    for one in wrong:
        print(f"    {one}")


def _placed(found: Sequence[Variant], wiring: Wiring) -> None:
    """Hold where each variant lies against the room's truth of its chain's round trip, amp by amp."""
    off: dict[tuple[str, int], list[float]] = {}
    for one in found:
        room = Room(wiring)
        room.plug(one.chain.name)
        for number in AMPS:
            late = room.truth(number).delay_frames - one.shift_frames
            off.setdefault((one.part, number), []).append(late)
    between = np.mean(off[found[0].part, SECOND]) - np.mean(off[found[0].part, CLOSE])
    report.figure("  second amp after the first", f"{between:+.1f} frames, kept")
    for (part, number), ones in sorted(off.items()):
        apart = max(ones) - min(ones)
        text = f"{apart:.2f} frames"
        if number == CLOSE:
            text += f", {max(abs(one) for one in ones):.2f} off"
        report.figure(
            f"  {part}, {AMPS[number]} amp: {len(ones)} variants apart", text, "within 1 frame",
            apart <= WITHIN_FRAMES,
        )  # fmt: skip


def _room(seed: int) -> Wiring:
    draw = np.random.default_rng([seed, 1])
    cabinets = ("closed back", "open back")
    microphones = (
        Microphone(input=CLOSE, distance_cm=draw.uniform(2, 8), cabinet=str(draw.choice(cabinets))),
        Microphone(
            input=FAR, distance_cm=draw.uniform(80, 200), cabinet=str(draw.choice(cabinets))
        ),
        Microphone(
            input=SECOND,
            distance_cm=draw.uniform(3, 120),
            cabinet=str(draw.choice(cabinets)),
            second_amp=True,
        ),
    )
    device = SimulatedDevice(
        pace="free",
        inputs=5,
        outputs=4,
        seed=seed,
        converter_frames=draw.uniform(150, 400),
        amp=Amp(drive_db=draw.uniform(0, 25), asymmetry=draw.uniform(0, 1)),
        second_amp=Amp(drive_db=draw.uniform(0, 25), asymmetry=draw.uniform(0, 1)),
        microphones=microphones,
        noise_dbfs=draw.uniform(-90, -80),
        chains=PEDALS,
        faults=tuple({"kind": kind, **one.fault} for kind, one in PLANTED.items()),
    )
    return Wiring(
        name=f"room {seed}",
        device=device,
        sample_rate=RATE,
        send_output=3,
        returns=(
            Return("close", CLOSE, amp="first"),
            Return("room", FAR, amp="first"),
            Return("second close", SECOND, amp="second"),
        ),
        reference="close",
    )


def _session(folder: Path, wiring: Wiring, seed: int) -> Path:
    text = folder / "room.yaml"
    text.write_text(wiring_text(wiring))
    samples = {
        "notes": phrase(rate=RATE, seconds=6.5, seed=seed),
        "chugs": palm_muted(seconds=6.5, seed=seed),
        "chords": slow_chords(seconds=6.5),
    }
    dis = tuple(write_di(folder / f"{name}.wav", one) for name, one in samples.items())
    with Worker() as worker:
        session, _ = new_session(
            folder / "session", dis=dis, channel=1, wiring_path=text, song=None, bpm=None,
            metre=None, worker=worker,
        )  # fmt: skip
    chains = ", ".join(PEDALS)
    (session.folder / "plan.yaml").write_text(f"passes: [{{parts: all, chains: [{chains}]}}]\n")
    return session.folder


# ---------------------------------------------------------------- kills


def _kills(asked: argparse.Namespace) -> None:
    kills = 4 if asked.short else KILLS
    with tempfile.TemporaryDirectory(prefix="secondpass-run-kills-") as folder:
        parts, chains = (2, 2) if asked.short else (PARTS, CHAINS)
        ground = prepare(Path(folder), parts=parts, chains=chains)
        rng = np.random.default_rng([asked.seed, 2])
        moments: list[Moment] = drawn(
            ground.notes, "face", moments=kills // 2, lasts_s=ground.lasts_s, rng=rng
        )
        times = rng.uniform(0.05, 0.95, size=kills - len(moments)) * ground.lasts_s
        moments += [AtTime("all", float(seconds)) for seconds in times]
        done = _beside(asked, Path(folder), [(one, ground) for one in moments])
    bad = [one for one in done if one.found.wrong or one.processes_left or one.hung]
    met = sum(one.died for one in done)
    at = ", ".join(str(one.done_before) for one in done)
    report.figure("runs that the kill met", f"{met} of {kills}")
    report.figure("lines done when it came", at)
    report.figure("openings after it, at most", f"{max(one.openings for one in done)}")
    report.figure("ended as the undisturbed run", f"{kills - len(bad)} of {kills}", "all", not bad)
    for one in bad:
        print(f"    {one.moment}: {'; '.join(one.found.wrong)}")


def _beside(
    asked: argparse.Namespace, folder: Path, given: Sequence[tuple[Moment, Any]]
) -> list[Attempt]:
    def one(of: tuple[Moment, Any]) -> Attempt:
        with tempfile.TemporaryDirectory(dir=folder) as place:
            return attempt(of[1], of[0], Path(place) / "evening")

    with concurrent.futures.ThreadPoolExecutor(asked.at_once) as pool:
        return list(pool.map(one, given))


if __name__ == "__main__":
    main()
