"""The levels of just those channels that a view shows."""

from __future__ import annotations

from audio.vocab.status import Meters, Status
from audio.vocab.wiring import Wiring


def of_send(status: Status, wiring: Wiring) -> Meters:
    """Return the level of the send."""
    return _row([(status.outputs, wiring.send_output - 1)])


def of_returns(status: Status, wiring: Wiring) -> Meters:
    """Return the levels of the returns, in the wiring's order."""
    return _row([(status.inputs, one.input - 1) for one in wiring.returns])


def of_all(status: Status, wiring: Wiring) -> Meters:
    """Return the level of the send, then those of the returns."""
    send = [(status.outputs, wiring.send_output - 1)]
    return _row(send + [(status.inputs, one.input - 1) for one in wiring.returns])


def _row(places: list[tuple[Meters, int]]) -> Meters:
    """Return the levels at these places; a channel that is not there yet is silent."""
    there = [(m, i) if i < len(m.peak) else (_SILENT, 0) for m, i in places]
    return Meters(
        peak=tuple(m.peak[i] for m, i in there),
        rms=tuple(m.rms[i] for m, i in there),
        held=tuple(m.held[i] for m, i in there),
        clips=tuple(m.clips[i] for m, i in there),
    )


_SILENT = Meters(peak=(0.0,), rms=(0.0,), held=(0.0,), clips=(0,))
