"""One finder of hits on sound files, in a process of its own, so that its time and memory are its own.

``python onset_finders.py ours|librosa|librosa-back FILE.npz``: reads arrays ``samples`` (frames,) and
``rate`` of each phrase, writes JSON to the standard output: the hits (s), CPU seconds without imports,
those of the imports, and the most memory beyond what was there once sound and libraries were (MB).
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from processes import MB, peak_rss_bytes, rss_bytes

SURE_ENOUGH = 0.5
"""Of ours, what is surer than even counts."""
Finder = Callable[[NDArray[np.float32], int], list[float]]


def ours() -> Finder:
    """Return ours."""
    from audio.measure.onsets import find_hits  # noqa: PLC0415 - imports are timed

    def found(samples: NDArray[np.float32], rate: int) -> list[float]:
        hits = find_hits(samples, rate=rate)
        return [hit.frame / rate for hit in hits if hit.confidence >= SURE_ENOUGH]

    return found


def librosa(*, back: bool) -> Finder:
    """Return librosa's, led back to the minimum before each peak or not."""
    from librosa.onset import onset_detect  # noqa: PLC0415 - imports are timed

    def found(samples: NDArray[np.float32], rate: int) -> list[float]:
        at = onset_detect(y=samples, sr=rate, units="time", hop_length=128, backtrack=back)
        return [float(one) for one in at]

    found(np.random.default_rng(0).normal(0, 0.1, 48_000).astype(np.float32), 48_000)  # it compiles
    return found


FINDERS: dict[str, Callable[[], Finder]] = {
    "ours": ours,
    "librosa": lambda: librosa(back=False),
    "librosa-back": lambda: librosa(back=True),
}


def main() -> None:
    """Find hits in all phrases of a file."""
    before = time.process_time()
    finder = FINDERS[sys.argv[1]]()
    imported = time.process_time() - before
    phrases = np.load(sys.argv[2])
    count = sum(name.startswith("samples") for name in phrases.files)
    hits, spent, more = [], 0.0, 0.0
    for number in range(count):
        samples, rate = phrases[f"samples{number}"], int(phrases[f"rate{number}"])
        held, before = _forget_peak(), time.process_time()
        hits.append(finder(samples, rate))
        spent += time.process_time() - before
        more = max(more, (peak_rss_bytes(os.getpid()) - held) / MB)
    print(json.dumps({"hits": hits, "cpu_s": spent, "import_s": imported, "more_mb": more}))


def _forget_peak() -> int:
    """Let Linux count the peak anew (``clear_refs`` of proc(5)); return what is held now, bytes."""
    Path("/proc/self/clear_refs").write_text("5")
    return rss_bytes(os.getpid())


if __name__ == "__main__":
    main()
