"""The moving line while a roll runs: how far, which levels, what was lost, never too wide."""

from __future__ import annotations

from dataclasses import replace

from wiring_cases import WHOLE, parsed

from audio.vocab.status import Meters, Status
from tui.present.plain import progress

WIRING = parsed(WHOLE)


def meters(**peaks: float) -> Meters:
    """Return eight channels, those named (``c3=0.5``, from 1) with a peak."""
    peak = tuple(peaks.get(f"c{number}", 0.0) for number in range(1, 9))
    return Meters(peak=peak, rms=peak, held=peak, clips=(0,) * 8)


STATUS = Status(
    stream_frame=500_000,
    roll_frame=4 * 48000,
    timeline_frame=4 * 48000,
    roll_length=33 * 48000,
    roll_id=3,
    state=2,
    dropouts=0,
    flagged=0,
    inputs=meters(c2=0.1, c3=0.01, c5=1.0),
    outputs=meters(c3=0.5, c1=1.0),
)


def line(status: Status = STATUS, *, frames: int = 21 * 48000, columns: int = 79) -> str:
    return progress(status, wiring=WIRING, frames=frames, columns=columns)


def test_time_send_and_each_return_stand_by_name_and_other_channels_do_not() -> None:
    wanted = "  0:04 of 0:21  send   −6.0  close  −20.0  room  −40.0  nothing lost"
    assert line() == wanted


def test_silence_reads_minus_infinity() -> None:
    assert "close   −inf" in line(replace(STATUS, inputs=meters()))


def test_after_the_di_the_tail_is_counted_and_before_it_nothing_is_negative() -> None:
    assert line(replace(STATUS, roll_frame=23 * 48000)).startswith("  tail 0:02  send")
    assert line(replace(STATUS, roll_frame=-512)).startswith("  0:00 of 0:21  send")
    assert line(frames=0).startswith("  listening 0:04  send")


def test_what_was_lost_stays_when_returns_do_not_fit() -> None:
    lost = replace(STATUS, dropouts=2)
    assert line(lost, columns=60) == "  0:04 of 0:21  send   −6.0  close  −20.0  2 dropouts"
    assert line(lost, columns=50) == "  0:04 of 0:21  send   −6.0  2 dropouts"
    assert all(len(line(lost, columns=columns)) <= columns for columns in range(1, 100))
