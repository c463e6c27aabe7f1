"""What the engineer has plugged between interface, reamp box, DI input and amp at the moment."""

from __future__ import annotations

from typing import Literal

PatchName = Literal["amp", "box to DI input", "send to input", "unplugged", "plugged", "lifted"]
"""One state of the cables.

``amp``
    The normal path: send, reamp box, pedals, amp.
``box to DI input``
    The reamp box's output goes by cable into the DI input that recorded the part, as the guitar did; the
    amp hears nothing.
``send to input``
    A cable for one measurement: the send goes straight into the DI input, only converters between; the
    reamp box and the amp hear nothing.
``unplugged``
    The cable is out of the amp's input; what comes before it is as in ``amp``.
``plugged``
    It is in again: as ``amp``.
``lifted``
    As ``plugged``, with the reamp box's ground lift pressed.
"""

AMP_HEARS: frozenset[PatchName] = frozenset({"amp", "plugged", "lifted"})
"""Those in which what is sent reaches the amp."""
