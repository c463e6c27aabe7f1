"""An invented session, ready to run in the simulated room: DIs, their wiring, and the passes to make.

Everything here is made up: the song, its parts, the playing. ``make_dis.py`` writes the DIs.
"""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable


def content() -> Traversable:
    """Return the folder with ``recipe.yaml``, ``wiring.yaml`` and the DIs it names."""
    return files(__name__)
