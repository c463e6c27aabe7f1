"""How loud each sound is while they are flipped between: worked by hand, and safe whatever the levels."""

from __future__ import annotations

from math import cos, log10, pi, sin
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from listening_cases import BARE, RATE, TRACK, a_variant, came_in, faders, layer, level, now
from msgspec.structs import replace

from audio.plan.listening import (
    UNKNOWN_DB,
    as_passes_tell,
    beneath,
    careful,
    cut_db,
    gains,
    layers,
    mix,
    next_to,
    settled,
    steered,
    turned_db,
)
from audio.vocab.listening import (
    BACKING,
    OTHERS,
    Flip,
    GoRound,
    LeaveOut,
    ListeningNow,
    MatchThem,
    SetBalance,
    SetUnder,
    Steer,
    Under,
)
from audio.vocab.matching import Matched
from audio.vocab.messages import Span

HALF = 10 ** (-6 / 20)  # −6 dB
SILENT = 0.0


def measured(**fields: Any) -> ListeningNow:
    """Return sounds of which the second is to be turned down by 6 dB, all of them by 2 dB more."""
    levels = (("002", level(0.0)), ("001", level(-6.0)), ("original:close", level(-9.0)),
              ("di", level(-12.0)))  # fmt: skip
    usual = {"levels": levels, "cut_matched_db": -2.0, "cut_plain_db": -8.0, "measured": True}
    return now(**(usual | fields))


def linear(db: float) -> float:
    return float(10 ** (db / 20))


# ------------------------------------------------------------------ how loud


def test_only_the_sound_that_is_heard_sounds_and_what_is_under_it_stays() -> None:
    under = [linear(-6 - 2)] * 2
    heard = [linear(-2)] * 2
    assert gains(measured()) == pytest.approx([*heard, *[SILENT] * 4, *under])
    other = gains(measured(heard="001"))
    assert other == pytest.approx([0, 0, *[linear(-6 - 2)] * 2, 0, 0, *under])
    assert gains(measured(heard="di")) == pytest.approx([*[SILENT] * 5, linear(-14), *under])


def test_while_one_that_is_left_out_is_heard_everything_is_turned_down_enough_for_any() -> None:
    left = measured(out=("di",))
    assert gains(left) == gains(measured())
    heard = replace(left, heard="di")
    cut = careful(heard).cut_matched_db
    assert cut < left.cut_matched_db
    assert gains(heard)[5] == pytest.approx(linear(-12.0 + cut))
    assert gains(heard)[6] == pytest.approx(linear(-6.0 + cut)), "what is under it, too"


def test_the_gains_are_in_the_order_of_the_layers() -> None:
    there = [one.path.removeprefix("/evening/") for one in layers(measured())]
    assert there == [
        "002/close.wav",
        "002/room.wav",
        "001/close.wav",
        "001/room.wav",
        "originals/original.wav",
        "di/di.wav",
        "track/backing.wav",
        "track/backing.wav",
    ]
    assert len(gains(measured())) == len(there)


@pytest.mark.parametrize(
    ("balance", "close", "room"),
    [
        (faders(), 0.0, 0.0),
        (faders(room=-6.0), 0.0, -6.0),
        (faders(close=None, room=-3.0), None, -3.0),
        (faders("room", close=-1.0), None, 0.0),
        (faders("close", "room", close=-1.0), -1.0, 0.0),
        (faders("room", room=None), None, None),
    ],
)
def test_faders_and_solo_of_the_sound_that_is_heard_count_and_those_of_no_other(
    balance: Any, close: float | None, room: float | None
) -> None:
    shut = faders(close=None, room=None)
    one = measured(balances=(("002", balance), ("001", shut)))
    expected = [SILENT if db is None else linear(db - 2) for db in (close, room)]
    assert gains(one)[:2] == pytest.approx(expected)
    assert gains(replace(one, heard="001"))[2:4] == (SILENT, SILENT)


def test_unmatched_each_sounds_as_loud_as_it_is_but_for_what_keeps_all_of_them_safe() -> None:
    one = measured(heard="001", matched=False)
    assert turned_db(one, "001") == -8.0
    assert gains(one)[2:4] == pytest.approx([linear(-8)] * 2)
    assert gains(one)[-2:] == pytest.approx([linear(-6 - 8)] * 2)


def test_what_is_under_them_is_silent_where_it_is_off() -> None:
    assert gains(measured(under=(replace(TRACK, db=None),)))[-2:] == (SILENT, SILENT)


def test_a_sound_of_which_nothing_is_known_is_turned_by_what_all_are() -> None:
    assert turned_db(measured(levels=()), "001") == -2.0


def test_no_gain_is_ever_more_than_one() -> None:
    one = measured(cut_matched_db=0.0, levels=(("002", level(3.0)),))
    assert gains(one)[:2] == (1.0, 1.0)


# ------------------------------------------------------------------ what is asked


def test_a_flip_hears_another_one_and_remembers_which_was_heard_before() -> None:
    one = steered(measured(), Flip(key="di"))
    assert (one.heard, one.before, one.measured) == ("di", "002", True)
    back = steered(one, Flip(key=one.before))
    assert (back.heard, back.before) == ("002", "di")


@pytest.mark.parametrize("key", ["007", "", "DI", "002"])
def test_a_flip_to_what_is_not_there_or_to_what_is_heard_changes_nothing(key: str) -> None:
    one = measured(before="di")
    assert steered(one, Flip(key=key)) is one


def test_matching_is_turned_off_and_on_without_anything_measured_anew() -> None:
    off = steered(measured(), MatchThem(on=False))
    assert (off.matched, off.measured, cut_db(off)) == (False, True, -8.0)
    assert steered(off, MatchThem(on=True)) == measured()


@pytest.mark.parametrize(
    ("asked", "stands"),
    [(-12.0, -12.0), (3.0, 0.0), (-40.0, -40.0), (-40.5, None), (None, None)],
)
def test_what_is_under_them_goes_from_40_below_to_0_db_or_off(
    asked: float | None, stands: float | None
) -> None:
    one = steered(measured(), SetUnder(name=BACKING, db=asked))
    assert one.under[0].db == stands
    assert not one.measured


def test_a_balance_replaces_the_one_before_and_asks_for_measuring() -> None:
    one = steered(measured(), SetBalance(key="001", balance=faders(room=-6.0)))
    assert one.balance("001") == faders(room=-6.0)
    assert one.balance("002") == faders()
    again = steered(one, SetBalance(key="001", balance=faders("close")))
    assert again.balances == (("001", faders("close")),)
    assert not again.measured


def test_another_stretch_and_another_company_ask_for_measuring() -> None:
    span = Span(start=RATE, end=2 * RATE)
    one = steered(measured(problem="gone", read=2), GoRound(span=span))
    assert (one.span, one.measured, one.problem, one.read) == (span, False, "", 0)
    fewer = steered(measured(), LeaveOut(key="001", out=True))
    assert [sound.key for sound in fewer.compared()] == ["002", "original:close", "di"]
    assert not fewer.measured
    assert steered(fewer, LeaveOut(key="001", out=False)).compared() == measured().compared()


BALANCED = measured(balances=(("001", faders(room=-6.0)),), out=("di",))


@pytest.mark.parametrize(
    "asked",
    [
        Flip(key="002"),
        MatchThem(on=True),
        SetUnder(name=BACKING, db=-6.0),
        SetUnder(name=OTHERS, db=-6.0),
        SetBalance(key="001", balance=faders(room=-6.0)),
        SetBalance(key="002", balance=faders()),
        GoRound(span=Span(start=0, end=20 * RATE)),
        LeaveOut(key="di", out=True),
        LeaveOut(key="001", out=False),
    ],
)
def test_what_stands_so_already_changes_nothing_and_stays_measured(asked: Steer) -> None:
    assert steered(BALANCED, asked) == BALANCED


def test_the_last_sound_cannot_be_left_out() -> None:
    one = measured(out=("001", "002", "original:close"))
    assert steered(one, LeaveOut(key="di", out=True)) == one


def test_a_sound_that_is_not_there_cannot_be_left_out_nor_balanced() -> None:
    one = measured()
    assert steered(one, LeaveOut(key="007", out=True)) == one
    assert steered(one, SetBalance(key="007", balance=faders(room=-6.0))) == one


def test_the_list_is_walked_past_those_that_are_left_out_and_ends_at_its_ends() -> None:
    one = measured(out=("001",))
    assert next_to(one, 1) == "original:close"
    assert next_to(one, -1) == "002"
    assert next_to(replace(one, heard="di"), 1) == "di"
    assert next_to(replace(one, heard="original:close"), -1) == "002"
    assert next_to(replace(one, heard="001"), 1) == "original:close", "it is heard: from its place"
    assert next_to(replace(one, heard="001"), -1) == "002"


# ------------------------------------------------------------------ what is measured


def test_a_mix_has_every_microphone_and_those_that_are_shut_are_silent_in_it() -> None:
    one = a_variant(1, "close", "room", "ribbon")
    there = now(sounds=(one,), balances=(("001", faders(close=-3.0, room=None)),))
    assert [(layer.name, layer.gain_db) for layer in mix(there, one)] == [
        ("close", -3.0),
        ("room", -200.0),  # SILENCE_DBFS
        ("ribbon", 0.0),
    ]
    alone = now(sounds=(one,), balances=(("001", faders("ribbon")),))
    assert [layer.gain_db for layer in mix(alone, one)] == [-200.0, -200.0, 0.0]


def test_beneath_is_what_plays_at_its_own_gain_and_the_one_it_was_given() -> None:
    kept = Under(name=OTHERS, layers=(layer("close", of="hook", gain_db=-4.0),), db=-10.0)
    found = beneath((replace(TRACK, db=None), kept))
    assert [(one.path, one.gain_db) for one in found] == [("/evening/hook/close.wav", -14.0)]
    assert [one.gain_db for one in beneath((TRACK,))] == [-6.0, -6.0]


def test_what_was_measured_counts_and_levels_of_those_left_out_stay() -> None:
    one = measured(out=("001",), measured=False, read=2, problem="gone")
    told = Matched(
        sounds=(level(0.0, lufs=-30.0), level(-1.0), level(-2.0)),
        cut_matched_db=-0.5,
        cut_plain_db=-3.0,
    )
    done = settled(one, told)
    assert dict(done.levels) == {
        "002": level(0.0, lufs=-30.0),
        "001": level(-6.0),
        "original:close": level(-1.0),
        "di": level(-2.0),
    }
    assert (done.cut_matched_db, done.cut_plain_db) == (-0.5, -3.0)
    assert (done.measured, done.read, done.problem) == (True, 0, "")


def test_where_nothing_could_be_measured_it_is_turned_down_for_anything_and_why_is_told() -> None:
    one = measured(measured=False, read=1)
    done = settled(one, None, problem="a.wav is gone")
    assert done.levels == one.levels
    assert done.cut_matched_db == careful(one).cut_matched_db < one.cut_matched_db
    assert (done.measured, done.read, done.problem) == (True, 0, "a.wav is gone")


# ------------------------------------------------------------------ what the passes tell


def test_the_passes_match_to_the_quietest_of_them_and_a_di_is_turned_down_by_nine() -> None:
    one = now(sounds=(a_variant(2), a_variant(1), BARE), under=())
    files = {
        "002": (came_in("close", peak=-6.0, lufs=-20.0), came_in("room", peak=-80.0, lufs=None)),
        # Two alike with nothing in common: 3.01 dB more than one; their peaks could meet: 6.02 dB more.
        "001": (came_in("close", peak=-12.0, lufs=-30.0), came_in("room", peak=-12.0, lufs=-30.0)),
    }
    told = dict(as_passes_tell(one, files).levels)
    assert told["001"].loudness_lufs == pytest.approx(-30 + 10 * log10(2))
    assert told["001"].peak_dbtp == pytest.approx(-12 + 20 * log10(2))
    assert told["001"].match_db == 0.0
    assert told["002"].match_db == pytest.approx(-10 + 10 * log10(2))
    assert (told["di"].loudness_lufs, told["di"].match_db) == (None, UNKNOWN_DB)


def test_a_balance_counts_in_what_the_passes_tell() -> None:
    files = {"001": (came_in("close", peak=-6, lufs=-20.0), came_in("room", peak=-6, lufs=-20.0))}
    one = now(sounds=(a_variant(1),), balances=(("001", faders("room", room=-5.0)),), under=())
    (_, told), *_ = as_passes_tell(one, files).levels
    assert (told.loudness_lufs, told.peak_dbtp) == pytest.approx((-25.0, -11.0))
    shut = now(sounds=(a_variant(1),), balances=(("001", faders(close=None, room=None)),), under=())
    (_, told), *_ = as_passes_tell(shut, files).levels
    assert (told.loudness_lufs, told.match_db) == (None, UNKNOWN_DB)


def test_one_di_alone_is_turned_down_until_a_flip_of_it_fits() -> None:
    told = as_passes_tell(now(sounds=(BARE,), under=()), {})
    # Full scale at −9 dB, and 3.01 dB for a flip: already under −1 dBTP. Plain: −1 − 3.01 dB.
    assert told.cut_matched_db == 0.0
    assert told.cut_plain_db == pytest.approx(-1 - 10 * log10(2))
    assert not told.measured


DBS = st.floats(-70.0, 6.0)
FILES = st.builds(came_in, st.sampled_from(["close", "room"]), peak=DBS, lufs=st.none() | DBS)
FADED = st.builds(faders, close=st.none() | st.floats(-40, 0), room=st.none() | st.floats(-40, 0))
UNDERS = st.lists(st.none() | st.floats(-40.0, 0.0), max_size=2)
STANDS = st.lists(st.tuples(st.lists(FILES, max_size=2, unique_by=lambda f: f.return_name), FADED),
                  min_size=1, max_size=4)  # fmt: skip


@given(STANDS, UNDERS, st.booleans(), st.floats(0.0, 1.0), st.data())
def test_until_anything_is_measured_no_flip_over_what_is_under_it_can_exceed_the_ceiling(
    stands: list[Any],
    unders: list[float | None],
    matched: bool,
    share: float,
    data: st.DataObject,
) -> None:
    """At any moment of a flip every peak of both sounds, and full scale of what is under them, may meet."""
    variants = [a_variant(number) for number in range(1, len(stands) + 1)]
    peaks = {one.key: {file.return_name: file.peak_dbfs for file in stands[at][0]}
             for at, one in enumerate(variants)}  # fmt: skip
    under = tuple(
        Under(name=name, layers=(layer(name), layer(name, channel=1)), db=db)
        for name, db in zip((BACKING, OTHERS), unders, strict=False)
    )
    balances = tuple((one.key, balance) for one, (_, balance) in zip(variants, stands, strict=True))
    one = now(sounds=(*variants, BARE), under=under, balances=balances, matched=matched)
    files = {v.key: tuple(stands[at][0]) for at, v in enumerate(variants) if stands[at][0]}
    told = as_passes_tell(one, files)
    keys = st.sampled_from([*files, "di"])
    total = 0.0
    for key, gain in (
        (data.draw(keys), cos(share * pi / 2)),
        (data.draw(keys), sin(share * pi / 2)),
    ):
        heard = gains(replace(told, heard=key))
        for played, linear_gain in zip(layers(told), heard, strict=True):
            if played in (told.sound(key) or BARE).layers:
                peak = peaks.get(key, {}).get(played.name, -200.0) if key != "di" else 0.0
                total += gain * linear_gain * linear(peak)
    total += sum(gains(told)[len(layers(told)) - 2 * len(under) :])
    assert total <= linear(-1.0) * (1 + 1e-9)
