"""An invented session, ready to run in the simulated room: sound, wiring, and the passes to make.

Everything here is made up: the songs, their parts, the playing. ``make_files.py`` writes the sound files.
"""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable


def content() -> Traversable:
    """Return the folder with ``recipe.yaml``, ``wiring.yaml`` and the sound files it names."""
    return files(__name__)
