"""Slips as they are noted one after the other."""

from __future__ import annotations

from audio.measure.slips import Slips


def test_a_slip_that_was_found_in_two_steps_is_one() -> None:
    slips = Slips()
    slips.note(3, first=100, last=200)
    slips.note(-70, first=5000, last=5200)
    slips.amend(1)
    assert [(s.at_frame, s.within_frames, s.frames) for s in slips.told] == [
        (150, 50, 3),
        (5100, 100, -69),
    ]
    assert slips.frames == -66


def test_a_slip_that_turns_out_to_be_none_is_gone_and_may_come_back() -> None:
    slips = Slips()
    slips.note(1, first=100, last=200)
    slips.amend(-1)
    assert slips.told == ()
    slips.amend(2)
    assert [s.frames for s in slips.told] == [2]
