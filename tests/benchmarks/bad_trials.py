"""The child of `bench_bad_input`: tries inputs of one kind, and dies if the program hangs or crashes.

Whoever started it finds in the state file how far it came: an input it died of is the one after the last
that was counted.
"""

from __future__ import annotations

import faulthandler
import json
import resource
import signal
import sys
import time
import traceback
import unicodedata
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from bad_kind import Kind, Refused, Wrong

from tui.present.terminal import clean

HANG_S = 2.0
"""Processor seconds an input may take."""

STUCK_S = 60.0
"""Seconds an input may take on a machine that does other things as well."""

MEMORY_BYTES = 4 << 30
"""Address space; what is asked for beyond is refused, as on a small machine."""

_CONTROL = ("Cc", "Cf", "Cs", "Zl", "Zp")

LONGEST_SENTENCE = 1000
MOST_LINES = 40


@dataclass
class State:
    """What became of the inputs so far."""

    done: int = 0
    read: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    slowest: int = 0
    peak_mb: float = 0.0
    faults: Counter[str] = field(default_factory=Counter)

    def save(self, path: Path) -> None:
        """Write it where the parent finds it."""
        path.write_text(json.dumps(vars(self)))

    @classmethod
    def load(cls, path: Path) -> State:
        """Return what was saved; nothing done where there is none."""
        if not path.exists():
            return cls()
        fields = json.loads(path.read_text())
        return cls(**{**fields, "faults": Counter(fields["faults"])})


def try_all(kind: Kind, *, seed: int, each: int, scratch: Path, kept: Path, state: Path) -> None:
    """Try the inputs that were not tried yet; keep those that do harm."""
    _limit()
    inputs, so_far = kind.inputs(), State.load(state)
    path = scratch / kind.file
    with (kept / "place").open("w") as place:
        faulthandler.register(signal.SIGPROF, place, chain=True)
        for number in range(so_far.done, each):
            path.write_bytes(inputs.made(seed, number))
            _try(kind, path, number, so_far, kept=kept)
            so_far.done = number + 1
            so_far.save(state)


def _limit() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _try(kind: Kind, path: Path, number: int, so_far: State, *, kept: Path) -> None:
    data = path.read_bytes()
    signal.setitimer(signal.ITIMER_PROF, HANG_S)
    signal.setitimer(signal.ITIMER_REAL, STUCK_S)
    began = time.process_time()
    try:
        fault = _outcome(kind, path, so_far)
    finally:
        took = time.process_time() - began
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.setitimer(signal.ITIMER_REAL, 0)
    if took > so_far.slowest_s:
        so_far.slowest_s, so_far.slowest = took, number
    so_far.peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    fault = fault or _left(kind, path, data)
    if fault:
        so_far.faults[fault] += 1
        if so_far.faults[fault] <= 3:
            (kept / f"{number}-{kind.file}").write_bytes(data)
            with (kept / "faults.txt").open("a") as said:
                said.write(f"{number}: {fault}\n{traceback_of_last()}\n")


_last: list[str] = [""]


def traceback_of_last() -> str:
    """Return the traceback of the last fault, empty where none was raised."""
    said, _last[0] = _last[0], ""
    return said


def _outcome(kind: Kind, path: Path, so_far: State) -> str:
    """Let the program read the file; return what it did wrong, empty if nothing."""
    try:
        kind.read(path)
    except Wrong as error:
        return f"wrong: {clean(str(error))[:60]}"
    except (Refused, *kind.refusals) as error:
        so_far.refused += 1
        return _said_badly(kind, str(error), path)
    except Exception as error:  # noqa: BLE001 - any other is what is looked for
        _last[0] = traceback.format_exc(limit=-12)
        place = traceback.extract_tb(error.__traceback__)[-1]
        return f"{type(error).__name__} in {Path(place.filename).name}:{place.lineno}"
    so_far.read += 1
    return ""


def _said_badly(kind: Kind, text: str, path: Path) -> str:
    """Return what is wrong with a refusal, empty if nothing."""
    lines = text.split("\n")
    _last[0] = text[:3000] if text else "(nothing)"
    if len(lines) > (MOST_LINES if kind.many_lines else 1):
        return f"a refusal of {len(lines)} lines" if not kind.many_lines else "too many lines"
    for line in lines:
        if not line.strip():
            return "an empty line in a refusal"
        if any(unicodedata.category(c) in _CONTROL for c in line):
            return "a control character in a refusal"
        if len(line) > LONGEST_SENTENCE:
            return "a refusal too long to read"
        to_write = kind.many_lines and line.startswith("    ")  # lines to add by hand
        if kind.names_file and not to_write and str(path.parent) not in line:
            return "a refusal that does not name the file"
    _last[0] = ""
    return ""


def _left(kind: Kind, path: Path, data: bytes) -> str:
    """Return what the program left behind, and put the folder in order."""
    there = sorted(path.parent.iterdir())
    for one in there:
        if one != path:
            one.unlink() if not one.is_dir() else one.rmdir()
    if there != [path]:
        return f"files were made or removed: {[one.name for one in there]}"
    if not kind.mends and path.read_bytes() != data:
        return "the file was changed"
    return ""


def main() -> None:
    """Try the inputs of the kind that is named."""
    from bad_kinds import KINDS  # noqa: PLC0415 - the child's own

    index, seed, each, scratch, kept, state = sys.argv[1:]
    try_all(
        KINDS[int(index)],
        seed=int(seed),
        each=int(each),
        scratch=Path(scratch),
        kept=Path(kept),
        state=Path(state),
    )


if __name__ == "__main__":
    main()
