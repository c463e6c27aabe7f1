"""How the program starts its own processes: each a module of its own, nothing of the face in it."""

from __future__ import annotations

import os
import sys

_ONE_THREAD = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
"""The arithmetic is many short products: waking threads for them costs more than it saves, and takes
the other cores from the sound."""


def command(module: str) -> list[str]:
    """Return the command line that runs a module of this program.

    ``-P`` keeps the working directory off the import path: an engineer's folder named ``audio`` must
    not be taken for ours.
    """
    return [sys.executable, "-P", "-m", module]


def environment() -> dict[str, str]:
    """Return the environment of a child that computes."""
    return os.environ | _ONE_THREAD
