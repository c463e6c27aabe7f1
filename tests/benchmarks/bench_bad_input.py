"""Bad input at scale: mutated valid files of every kind the program reads, and headers at their limits.

Each input is read in a child process as the program reads it. It must be read or refused: no other
exception, no crash of a C library, at most 2 s of processor time, no file made or changed, under 500 MB
of memory; and a refusal is one sentence (one line for each mistake, for files people write) that names the
file and holds no control character. Inputs that do harm are kept, with what they did in ``faults.txt``.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import report
from bad_kind import Kind
from bad_kinds import KINDS
from bad_trials import State

SEED = 20_261
EACH = 10_000
MOST_MB = 500.0
MOST_DEATHS = 200
"""Inputs of one kind the child may die of before the rest is given up."""


def main() -> None:
    """Print the table."""
    parser = report.options(__doc__)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--each", type=int, default=EACH, help="inputs of each kind")
    parser.add_argument("--only", default="", help="kinds whose name has this in it")
    parser.add_argument(
        "--keep", type=Path, help="folder for inputs that do harm (default: a new one)"
    )
    said = parser.parse_args()
    each = min(said.each, 200) if said.short else said.each
    keep = said.keep or Path(tempfile.mkdtemp(prefix="bad-input-"))
    report.conditions(
        f"seed {said.seed}, {each} inputs of each kind, what does harm goes to {keep}"
    )
    print(
        f"  {'kind':<28}{'attempts':>9}{'read':>8}{'refused':>9}{'failed':>8}{'slowest s':>11}{'MB':>7}"
    )
    total, failed, worst = 0, 0, State()
    for index, kind in enumerate(KINDS):
        if said.only in kind.name:
            state = tried(index, kind, said.seed, each, keep)
            total, failed = total + state.done, failed + sum(state.faults.values())
            worst.slowest_s = max(worst.slowest_s, state.slowest_s)
            worst.peak_mb = max(worst.peak_mb, state.peak_mb)
    if not any(keep.iterdir()):
        keep.rmdir()
    report.figure("inputs that did harm", f"{failed} of {total}", "0", failed == 0)
    slowest, peak = worst.slowest_s, worst.peak_mb
    report.figure("slowest input", f"{slowest:.2f} s", "under 2 s", slowest < 2.0)
    report.figure("largest memory", f"{peak:.0f} MB", f"under {MOST_MB:.0f} MB", peak < MOST_MB)


def tried(index: int, kind: Kind, seed: int, each: int, keep: Path) -> State:
    """Try one kind, with as many children as it takes, and print its line."""
    kept = keep / kind.name.replace(" ", "-").replace(":", "").replace(",", "")
    kept.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="bad-input-") as folder:
        state = Path(folder) / "state"
        for _ in range(MOST_DEATHS):
            if not _died(index, kind, seed, each, folder=Path(folder), kept=kept):
                break
        final = State.load(state)
    _show(kind, final)
    if not any(kept.iterdir()):
        kept.rmdir()
    return final


def _died(index: int, kind: Kind, seed: int, each: int, *, folder: Path, kept: Path) -> bool:
    """Run a child until it ends; count the input it died of."""
    scratch, path = folder / "scratch", folder / "state"
    scratch.mkdir(exist_ok=True)
    words = [str(index), str(seed), str(each), str(scratch), str(kept), str(path)]
    child = [sys.executable, str(Path(__file__).with_name("bad_trials.py")), *words]
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    with (folder / "said").open("wb") as said:
        code = subprocess.run(
            child, cwd=scratch, env=environment, stderr=said, check=False
        ).returncode
    place = kept / "place"
    text = place.read_text() if place.exists() else ""
    place.unlink(missing_ok=True)
    if code == 0:
        return False
    state = State.load(path)
    fault = "took over 2 s" if code == -signal.SIGPROF else f"the process died ({code})"
    state.faults[fault] += 1
    (kept / f"{state.done}-{kind.file}").write_bytes((scratch / kind.file).read_bytes())
    with (kept / "faults.txt").open("a") as out:
        out.write(f"{state.done}: {fault}\n{text}\n{(folder / 'said').read_text()[-3000:]}\n")
    state.done += 1
    state.save(path)
    return True


def _show(kind: Kind, state: State) -> None:
    failed = sum(state.faults.values())
    counts = f"{state.done:>9}{state.read:>8}{state.refused:>9}{failed:>8}"
    print(f"  {kind.name:<28}{counts}{state.slowest_s:>11.2f}{state.peak_mb:>7.0f}", flush=True)
    for fault, times in state.faults.most_common(12):
        print(f"      {times} × {fault}", flush=True)


if __name__ == "__main__":
    main()
