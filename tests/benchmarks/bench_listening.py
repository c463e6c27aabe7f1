"""Listening: is what is heard what was asked for, on its frame, without a click, with 64 files open?

``frames``: ten minutes of stream, as fast as the machine can, of random flips, loops moved and
microphones faded, on sounds that tell their own frames (`listening_ramps`): every sample outside fades
must be the sound that was asked for at the timeline's frame. ``joints``: real playing through four chains
(`listening_played`), flipped at random for three minutes: no click and no gap that the sounds do not have
themselves. ``room`` and ``jack``: sixteen variants of four microphones, ten minutes each
(`listening_many`, 5.5 GB), by the clock in the simulated room and over a private JACK server at 512
frames: seconds to the first sound, with the files in the system's memory and without, the callback's
share of the period, what was lost. ``face``: what the screen takes of a core meanwhile, on 160×50 cells.

The system forgets the files by `posix_fadvise`; how much it holds of them then is printed. Nothing here
is tuned on the seeds. Whatever else runs on the machine loses blocks, too: look at its load.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from time import monotonic

import listening_many
import listening_played
import listening_ramps
import report
from jackroom import rig, spec
from listening_many import BLOCK_FRAMES, Sitting
from processes import MB, has_realtime_thread
from screen import cost
from whole_listening import SESSION

from audio.session import layout
from audio.vocab.wiring_text import wiring_text

SEED = 30_100
MINUTES = 10.0
LISTEN_S = 180.0
"""No longer than the callback's log reaches back."""

FIRST_SOUND_S, MOST_SHARE, MOST_MB, MOST_OF_A_CORE = 1.0, 0.2, 300, 0.2
PARTS = ("frames", "joints", "room", "jack", "face")


def main() -> None:
    """Print the figures."""
    parser = report.options(__doc__)
    parser.add_argument("--only", choices=PARTS, action="append")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--seconds", type=float, default=LISTEN_S, help="of listening to 64 files")
    said = parser.parse_args()
    parts = said.only or PARTS
    with tempfile.TemporaryDirectory(prefix="bench-listening-") as scratch:
        folder = Path(scratch)
        if "frames" in parts:
            frames(folder, minutes=1.0 if said.short else MINUTES, seed=said.seed)
        if "joints" in parts:
            joints(folder, minutes=0.5 if said.short else 3.0, seed=said.seed)
        if {"room", "jack", "face"} & set(parts):
            many(folder, parts, said)


# ---------------------------------------------------------------- what is heard


def frames(folder: Path, *, minutes: float, seed: int) -> None:
    """Hold every sample of some minutes against what was asked for."""
    count = round(minutes * 60 * listening_ramps.RATE)
    report.conditions(
        f"{minutes:g} minutes of stream, {listening_ramps.SOUNDS} sounds of two microphones, seed {seed}"
    )
    place = folder / "ramps"
    place.mkdir()
    sources = listening_ramps.write_ramps(place, count)
    with listening_ramps.listener(sources, frames=count, seed=seed) as one:
        one.listen(count)
        left = one.left()[:count]
        ended = one.close()
    shutil.rmtree(place)
    held = listening_ramps.hold(one.asked, left)
    report.figure("flips, faders moved", f"{held.flips}, {held.fades}")
    report.figure("loops moved, rounds gone", f"{held.moves}, {held.rounds}")
    report.figure("samples held, in fades", f"{held.samples}, {held.in_fades}")
    report.figure("samples outside fades that are wrong", f"{held.wrong}", "0", not held.wrong)
    report.figure(
        "flips not begun in the block they came in", f"{held.late_flips}", "0", not held.late_flips
    )
    off = held.worst_in_fade
    within = listening_ramps.ROUNDED
    report.figure(
        "within flips: farthest off equal power, codes", f"{off:.2f}", f"{within:g}", off <= within
    )
    report.figure("loops that did not land in time", f"{held.lost_moves}", "0", not held.lost_moves)
    report.figure(
        "latest landing of a loop", f"{1e3 * held.latest_move / listening_ramps.RATE:.0f} ms"
    )
    report.figure("samples on the send that are not zero", f"{held.leaked}", "0", not held.leaked)
    lost = len(ended.dropouts)
    report.figure("places where something starved", f"{lost}", "0", not lost)


def joints(folder: Path, *, minutes: float, seed: int) -> None:
    """Look for clicks and gaps that no sound has itself."""
    place = folder / "played"
    place.mkdir()
    found = listening_played.flipped(place, seconds=40.0, minutes=minutes, seed=seed)
    report.conditions(
        f"real playing through {len(listening_played.CHAINS)} chains, {minutes:g} minutes, seed {seed}"
    )
    report.figure("flips", f"{found.flips}")
    report.figure("joints that the sounds have themselves", f"{found.own}")
    report.figure("joints that no sound has itself", f"{len(found.new)}", "0", not found.new)
    for frame in found.new:
        report.figure("  one at", f"{frame / listening_played.RATE:.4f} s")
    gap = found.longest_gap_ms
    most = listening_played.GAP_MS
    report.figure("longest gap", f"{gap:.2f} ms", f"at most {most:g} ms", gap <= most)
    hard = found.at_hard_flips
    report.figure("control: flips without a fade that are told", f"{hard} of {found.flips}")


# ---------------------------------------------------------------- 64 files


def many(folder: Path, parts: Sequence[str], said: argparse.Namespace) -> None:
    """Listen to the sixteen variants."""
    minutes, seed = 1.0 if said.short else MINUTES, said.seed
    needed, free = listening_many.bytes_needed(minutes), shutil.disk_usage(folder).free
    if free < 2 * needed:
        report.figure(
            "free on the disk", f"{free / 1e9:.1f} GB", f"{2 * needed / 1e9:.1f} GB", False
        )
        return
    session = listening_many.listened_session(folder, minutes=minutes, seed=seed)
    text = layout.session_yaml(session).with_name(layout.WIRING)
    seconds = 20.0 if said.short else said.seconds
    what = f"{len(listening_many.recordings(session))} files of {minutes:g} minutes, seed {seed}"
    text.write_text(wiring_text(listening_many.room_wiring()))
    if "room" in parts:
        listened(session, f"{what}, simulated room by the clock", seconds=seconds, seed=seed)
    if "face" in parts:
        face(session, what, seconds=3.0 if said.short else 10.0)
    if "jack" in parts:
        with jack(text):
            listened(session, f"{what}, over JACK", seconds=seconds, seed=seed)


@contextmanager
def jack(text: Path) -> Iterator[None]:
    """Have a private server with a room on it, and the session's wiring say so."""
    numbers = range(2, 2 + listening_many.MICROPHONES)
    wires = tuple(spec.Path(output=3, input=n, delay_frames=40 * n) for n in numbers)
    before = os.environ.copy()
    with rig.jack_room(rate=48_000, period=BLOCK_FRAMES, paths=wires, inputs=max(numbers)) as room:
        os.environ.update(room.env)
        text.write_text(room.wiring_text(listen={"outputs": [1, 2]}))
        try:
            yield
        finally:
            os.environ.clear()
            os.environ.update(before)


def listened(session: Path, where: str, *, seconds: float, seed: int) -> None:
    """Listen for some minutes, and look at what that takes."""
    files = listening_many.recordings(session)
    listening_many.forget_files(files)
    held = listening_many.held_share(files)
    with listening_many.sitting(session) as one:
        cold_s = one.listen()
        one.stop()
        first_s = one.listen()
        matched_s = until_matched(one)
        draw = random.Random(seed)  # noqa: S311 - no secrets
        steered = listening_many.steer_at_random(one, draw, seconds=seconds, moves=True)
        memory, realtime = one.memory(), has_realtime_thread(one.engine_pid)
        ended = one.stop()
        counters = one.counted()
        idle = one.idle_flagged(seconds / 3)
    scheduled = "real-time callback" if realtime else "no real-time thread"
    report.conditions(f"{where}, {BLOCK_FRAMES} frames, {scheduled}, {seconds:g} s")
    for name, first in (
        (f"first sound, {held:.0%} of the files in memory", cold_s),
        ("first sound, once more", first_s),
    ):
        report.figure(
            name, f"{first:.2f} s", f"at most {FIRST_SOUND_S:g} s", first <= FIRST_SOUND_S
        )
    report.figure("until all is matched", f"{matched_s:.0f} s")
    report.figure(
        "flips, loops and faders moved", f"{steered.flips}, {steered.moves}, {steered.fades}"
    )
    report.figure("share of the period, median", f"{counters.share_median:.1%}")
    share = counters.share_p999
    report.figure(
        "share of the period, p99.9",
        f"{share:.1%}",
        f"at most {MOST_SHARE:.0%}",
        share <= MOST_SHARE,
    )
    report.figure("share of the period, worst", f"{counters.share_worst:.1%}")
    starved = [one for one in ended.dropouts if one.kind == "starved"]
    count = sum(one.frames or 0 for one in starved)
    report.figure("frames that starved", f"{count}", "0", not count)
    lost = len(ended.dropouts) - len(starved)
    report.figure("other places where frames were lost", f"{lost}", "0", not lost)
    report.figure("callbacks flagged in a third of the time, nothing rolling", f"{idle}")
    for name, held_bytes in memory.items():
        report.figure(
            f"{name}: resident, in shares", f"{held_bytes.rss / MB:.0f}, {held_bytes.pss / MB:.0f} MB",
            f"at most {MOST_MB} MB", held_bytes.rss <= MOST_MB * MB,
        )  # fmt: skip


def until_matched(one: Sitting) -> float:
    """Wait until the loudness of all is known; return how long that took."""
    begun = monotonic()
    one.until(lambda: one.now is not None and one.now.measured, "loudness", limit_s=900.0)
    return monotonic() - begun


def face(session: Path, what: str, *, seconds: float) -> None:
    """Look at what the whole program's face takes of a core."""
    os.environ[SESSION] = str(session)
    took = cost("whole_listening:many_sounds", columns=160, rows=50, seconds=seconds)
    report.conditions(f"{what}, the screen on 160×50, a flip every 0.35 s, {seconds:g} s")
    report.figure(
        "face: share of a core", f"{took.share:.1%}", f"at most {MOST_OF_A_CORE:.0%}",
        took.share <= MOST_OF_A_CORE,
    )  # fmt: skip
    report.figure("face: worst stall", f"{took.worst_stall_ms:.0f} ms")
    report.figure("face: pictures a second", f"{took.pictures_per_s:.1f}")
    report.figure(
        "face: resident, in shares", f"{took.rss_bytes / MB:.0f}, {took.pss_bytes / MB:.0f} MB"
    )


if __name__ == "__main__":
    main()
