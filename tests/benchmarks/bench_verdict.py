"""The verdict on clean passes and on planted faults: what was planted against what was said.

Whole passes through the simulated room, as fast as it runs: opening click, DI, tail, closing click,
verdict. Rooms, riffs and faults follow from printed numbers; ``--rooms 7 --kinds "hum up"`` plays what
a table's line names again, and ``--told`` prints every pass.

Goals: 200 clean passes without a false redo and with two looks at most; of every kind of fault, at its
minimum size or more, thirty of thirty named with the weight it needs; the verdict within a second of
the last frame, that of five minutes with four returns in real time, too. At free pace a riff of seven
seconds is played in one or two, so what measures alongside has less time than at any desk.

What is only counted: frames that both directions lose at once, where neither loop nor witness is wired
(the recording lies where it did before and after, so no click and no attack can tell), and which
words gates and modulation bring. Frames are lost both ways while playing sounds: in a digital rest
silence takes the place of silence, and the recording is the same.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence

import report
from session import PART, NotingDeck, long_session, simulated_wiring
from verdict_kinds import KINDS, planted
from verdict_passes import CLEAN, TOO_SMALL, Take, clean_chains, evening, finish_s
from verdict_rooms import studio

from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.talk import Silent

GOAL_S = 1.0
LOOKS_GOAL = 2
CLEAN_EACH = 8
"""Clean passes in a room, the good takes before a fault among them."""
FIVE_MINUTES_S = 300.0
_ONLY_COUNTED = "lost both ways, none"


def main() -> None:
    """Run what was asked for and print the table."""
    said = _said()
    report.conditions(f"simulated room at free pace, rooms {said.rooms[0]} to {said.rooms[-1]}")
    takes: list[Take] = []
    for take in _takes(said):
        takes.append(take)
        if said.told:
            _tell(take)
    _clean_figures([t for t in takes if t.kind == CLEAN])
    _fault_figures([t for t in takes if t.kind != CLEAN])
    _time_figures(takes)
    if said.whole:
        _long_figure()


def _said() -> argparse.Namespace:
    parser = report.options(__doc__)
    parser.add_argument(
        "--kinds", help="faults to plant, by name, a comma between; all when left out"
    )
    parser.add_argument("--each", type=int, default=30, help="how many of each kind")
    parser.add_argument("--clean", type=int, help="how many clean passes; 200, none beside --kinds")
    parser.add_argument("--rooms", help="room numbers, a comma or a dash between")
    parser.add_argument("--told", action="store_true", help="print every pass as it is judged")
    said = parser.parse_args()
    said.whole = not said.short and said.kinds is None and said.rooms is None
    if said.short:
        said.each, said.clean = 1, 2
        said.kinds = said.kinds or "clipped,frames lost,signal stops"
    said.clean = (0 if said.kinds else 200) if said.clean is None else said.clean
    said.kinds = said.kinds and _known(parser, said.kinds)
    count = max(said.each, -(-said.clean // CLEAN_EACH))
    said.rooms = _numbers(said.rooms) if said.rooms else list(range(count))
    return said


def _known(parser: argparse.ArgumentParser, text: str) -> list[str]:
    kinds = [name.strip() for name in text.split(",") if name.strip()]
    for name in kinds:
        if name not in KINDS:
            parser.error(f"no kind {name!r} is known; write some of: {', '.join(KINDS)}")
    return kinds


def _numbers(text: str) -> list[int]:
    first, dash, last = text.partition("-")
    return list(range(int(first), int(last) + 1)) if dash else [int(n) for n in text.split(",")]


# ---------------------------------------------------------------- playing


def _takes(said: argparse.Namespace) -> Iterator[Take]:
    """Yield every pass, room after room."""
    kinds, cleans = said.kinds or list(KINDS), said.clean
    for place, number in enumerate(said.rooms):
        room, began = studio(number), time.monotonic()
        faults = [planted(room, kind) for kind in kinds] if place < said.each else []
        siblings = sum(KINDS[p.kind].sibling for p in faults)
        extras = min(cleans, max(0, CLEAN_EACH - siblings))
        cleans = max(0, cleans - extras - siblings)
        with evening(room) as session:
            yield from session.takes(clean_chains(room, extras), faults)
        print(f"  room {number}: {time.monotonic() - began:.0f} s", file=sys.stderr, flush=True)


# ---------------------------------------------------------------- figures


def _clean_figures(takes: Sequence[Take]) -> None:
    if not takes:
        return
    redos = [t for t in takes if t.verdict == "redo"]
    looks = [t for t in takes if t.verdict == "look"]
    report.figure(f"clean passes: {len(takes)}; false redo", str(len(redos)), "0", not redos)
    met = len(looks) <= LOOKS_GOAL
    report.figure("clean passes: looks", str(len(looks)), f"{LOOKS_GOAL} of 200 at most", met)
    peaks = [file.peak_dbfs for t in takes if t.variant for file in t.variant.files]
    if peaks:  # a clean pass that clips would be none
        report.figure(
            "clean passes: loudest peak", f"{max(peaks):.1f} dBFS", "under 0", max(peaks) < 0
        )
    print(f"      {_codes(takes)}", flush=True)
    for base in dict.fromkeys(t.base for t in takes):
        print(f"      {base}: {_codes([t for t in takes if t.base == base])}", flush=True)
    for take in (*redos, *looks):
        _tell(take)


def _fault_figures(takes: Sequence[Take]) -> None:
    for kind in dict.fromkeys(t.kind for t in takes):
        of_kind = [t for t in takes if t.kind == kind]
        if TOO_SMALL in kind:
            report.figure(kind, f"{len(of_kind)}", "not counted")
            continue
        missed = [t for t in of_kind if not _is_found(t)]
        met = None if kind == _ONLY_COUNTED else not missed
        found = f"{len(of_kind) - len(missed)} of {len(of_kind)}"
        report.figure(kind, found, "" if met is None else "all", met)
        print(f"      {_codes(of_kind)}", flush=True)
        for take in missed if met is not None else ():
            _tell(take)


def _is_found(take: Take) -> bool:
    kind = KINDS[take.kind.partition(",")[0]]
    weights = {"redo", kind.least}
    return any(f.code in kind.codes and f.weight in weights for f in take.findings)


def _codes(takes: Sequence[Take]) -> str:
    """Return the verdicts and how often each word came, weights of the words beside it."""
    verdicts = Counter(t.verdict for t in takes)
    words = Counter(f"{f.code} ({f.weight})" for t in takes for f in t.findings)
    told = [f"{words[word]} {word}" for word in sorted(words, key=lambda w: -words[w])]
    heads = [f"{verdicts[v]} {v}" for v in ("good", "look", "redo") if verdicts[v]]
    return f"{', '.join(heads)}: {'; '.join(told) or 'no word'}"


def _tell(take: Take) -> None:
    codes = ", ".join(f"{f.code} ({f.weight})" for f in take.findings) or "no word"
    where = f"room {take.room}, {take.kind}, {take.chain} ({take.base}), {take.part}"
    print(f"      {where}: {take.verdict}: {codes}")
    for finding in take.findings:
        if finding.weight != "good":
            print(f"          {finding.text}")
    if take.words:
        print(f"          planted: {take.words}", flush=True)


def _time_figures(takes: Sequence[Take]) -> None:
    timed = sorted((t for t in takes if t.seconds is not None), key=lambda t: t.seconds or 0.0)
    if not timed:
        return
    middle, longest = timed[len(timed) // 2].seconds or 0.0, timed[-1].seconds or 0.0
    report.figure("last frame to verdict, middle", f"{middle:.2f} s")
    met = longest <= GOAL_S
    report.figure("last frame to verdict, longest", f"{longest:.2f} s", "within 1 s", met)
    late = sum((t.seconds or 0.0) > GOAL_S for t in timed)
    report.figure("last frame to verdict, later than that", f"{late} of {len(timed)}")
    if late:
        _tell(timed[-1])


def _long_figure() -> None:
    with (
        long_session(seconds=FIVE_MINUTES_S) as session,
        NotingDeck(simulated_wiring(paced=True), Silent()) as deck,
    ):
        done = run_pass(deck, session, part_name=PART, chain="bare path", known=Known())
        took = finish_s(deck, session, done.variant)
    name = "five minutes in real time, four returns: to verdict"
    report.figure(name, f"{took:.2f} s", "within 1 s", took <= GOAL_S)


if __name__ == "__main__":
    main()
