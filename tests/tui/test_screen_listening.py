"""Listening on the screen: flipped by keys, turned by arrows, said of while it sounds, at every size."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hearing import NAMES, at_the_sounds, roll
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import DI_FRAMES, RATE, all_called, sounds
from msgspec.structs import replace
from puppet import Puppet
from rich.cells import cell_len
from screens import Seat, play
from shown import HOSTILE

from audio.jobs import news
from audio.jobs.orders import Asked, Listen, Looked, SayOfVariant
from audio.vocab.balance import Balance, Fader
from audio.vocab.listening import (
    BACKING,
    Flip,
    GoRound,
    LeaveOut,
    ListeningNow,
    MatchThem,
    SetBalance,
    SetUnder,
    Steer,
)
from audio.vocab.messages import Span
from audio.vocab.opinion import Keeper, Opinion
from tui.present.listening import (
    LETTERS,
    by_letter,
    head,
    letter_of,
    sound_line,
    turn_lines,
    turns,
)
from tui.present.looks import fitted

SIZES = ((80, 24), (160, 50))


def asked(puppet: Puppet) -> list[Asked]:
    return [one for one in puppet.orders if not isinstance(one, Looked)]  # type: ignore[misc]


# ------------------------------------------------------------------ what is shown


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_every_sound_has_its_letter_its_name_and_how_far_it_is_turned_down(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async def flow() -> None:
        async with at_the_sounds(Puppet(tmp_path), size=size) as seat:
            await seat.sees(
                "rhythm-left to listen to the whole part about matched",
                "▸ A 002 fuzz into delay ≈ −4.6 dB",
                "bars 5-8",
                "B 001 fuzz into delay ≈ −0.5 dB",
                "C original, close ≈ −3.0 dB",
                "D DI, as it was edited ≈ −13.8 dB",
                "All sounds roll together",
                "then press space; a sound's letter with shift flips to it",
                "space listen ↑↓ flip tab back and forth enter balance",
                "nothing sounds",
            )
            await seat.fits_everywhere()

    play(flow())


def test_while_it_rolls_the_head_tells_how_it_is_matched_and_where_it_is(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet, size=(160, 50)) as seat:
            await roll(seat, puppet)
            # −27.5 LUFS is the quietest, 0.5 dB of all is cut; bar 1 lies at 0.25 s, each has 2.5 s.
            await seat.sees(
                "rhythm-left listening the whole part",
                "all matched at −28.0 LUFS",
                "0:05 bar 2.4",
                "−23.4 LUFS",
                "heard on outs 1-2",
            )
            await seat.fits_everywhere()

    play(flow())


def test_what_had_to_be_left_out_and_what_went_wrong_with_measuring_is_told(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            gone = replace(sounds(NAMES), measured=True, problem="/evening/a.wav cannot be opened")
            await seat.told(news.ListeningStands(now=gone))
            await seat.sees("loudness not measured", "/evening/a.wav cannot be opened")
            busy = replace(sounds(NAMES), read=2)
            await seat.told(news.ListeningStands(now=busy))
            await seat.sees("about matched, 2 of 4 measured")

    play(flow())


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_where_there_is_nothing_the_way_to_it_is_told(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    way_out = "the wiring names no output where people listen; add it on the wiring screen"
    puppet = Puppet(tmp_path, sounds=news.SoundsRead(part=NAMES.part, now=None, problem=way_out))

    async def flow() -> None:
        async with at_the_sounds(puppet, size=size) as seat:
            await seat.sees("There is nothing to listen to yet: the wiring names no output")
            await seat.press(
                "down", "tab", "enter", "x", "3", "comma", "6", "left", "A", "exclamation_mark"
            )
            await seat.sees("There is nothing to listen to yet")
            await seat.fits_everywhere()
            assert (puppet.steers, asked(puppet)) == ([], [])

    play(flow())


def test_until_it_is_known_it_says_that_it_looks(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)
    puppet.sounds = news.SoundsRead(part="another", now=None)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await seat.sees("looking what there is to listen to …")

    play(flow())


def test_all_of_it_can_be_read_without_colour(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await seat.press("down", "x", "enter")
            shown = await seat.sees("▸ B 001", "left out", "◂ A 002", "▸ matched")
            assert "to the quietest" in shown
            for strip in seat.desk.screen._compositor.render_strips():
                for style in (segment.style for segment in strip if segment.style is not None):
                    colours = [one for one in (style.color, style.bgcolor) if one is not None]
                    assert all(_is_grey(one.get_truecolor()) for one in colours)

    play(flow())


def _is_grey(colour: Any) -> bool:
    return max(colour) - min(colour) <= 3


# ------------------------------------------------------------------ flipped


FLIPS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("down",), "001"),
    (("down", "down", "down", "down"), "di"),
    (("down", "down", "up"), "001"),
    (("up",), "002"),
    (("D",), "di"),
    (("D", "tab"), "002"),
    (("D", "B", "tab", "tab"), "001"),
    (("C", "E"), "original:close"),
)  # fmt: skip


def test_a_key_flips_while_it_rolls(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            for keys, heard in FLIPS:
                await seat.press("A", *keys)
                now = seat.desk.model.listening
                assert now is not None
                assert now.heard == heard, keys
            assert all(isinstance(one, Flip) for one in puppet.steers)
            assert puppet.steers[-1] == Flip(key="original:close")

    play(flow())


def test_what_is_chosen_before_it_rolls_is_how_it_begins(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await seat.press("C", "down", "x")
            await seat.sees("▸ D DI, as it was edited", "left out")
            await seat.press("enter", "enter", "escape")
            await seat.sees("NOT matched: each as loud as it is")
            await seat.press("space")
            assert puppet.steers == []
            (order,) = asked(puppet)
            assert order == Listen(
                part=NAMES.part,
                steers=(Flip(key="di"), LeaveOut(key="di", out=True), MatchThem(on=False)),
            )

    play(flow())


def test_what_is_left_out_is_walked_past_and_taken_in_again(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await seat.press("B", "x")
            await seat.sees("▸ B 001 fuzz into delay", "left out")
            await seat.press("up", "down")
            await seat.sees("▸ C original, close")
            await seat.press("B", "x")
            assert "left out" not in seat.flow
            left_out = [one for one in puppet.steers if isinstance(one, LeaveOut)]
            assert left_out == [LeaveOut(key="001", out=True), LeaveOut(key="001", out=False)]

    play(flow())


# ------------------------------------------------------------------ turned


def balance(key: str, *solo: str, **dbs: float | None) -> SetBalance:
    faders = tuple(Fader(name=name, db=db) for name, db in dbs.items())
    return SetBalance(key=key, balance=Balance(faders=faders, solo=solo))


TURNS: tuple[tuple[tuple[str, ...], tuple[Steer, ...], str], ...] = (
    (("enter",), (MatchThem(on=False),), "▸ matched no"),
    (("left", "right"), (MatchThem(on=False), MatchThem(on=True)), "▸ matched in loudness"),
    (("down", "down", "left"), (SetUnder(name=BACKING, db=-7.0),), "▸ backing −7 dB"),
    (
        ("down", "down", "enter", "right"),
        (SetUnder(name=BACKING, db=None), SetUnder(name=BACKING, db=-40.0)),
        "▸ backing −40 dB",
    ),
    (
        ("down", "down", "down", "left", "left", "right"),
        (balance("002", close=-1.0), balance("002", close=-2.0), balance("002", close=-1.0)),
        "▸ close −1 dB",
    ),
    (
        ("down", "down", "down", "down", "enter"),
        (balance("002", "room"),),
        "close 0 dB (not heard) ▸ room 0 dB alone",
    ),
    (
        ("down", "down", "down", "enter", "enter", "right"),
        (balance("002", "close"), balance("002"), balance("002", close=0.0)),
        "▸ close 0 dB",
    ),
)


@pytest.mark.slow
def test_rows_are_turned_by_arrows_and_enter(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            for keys, steers, shown in TURNS:
                await roll(seat, puppet)
                puppet.steers.clear()
                await seat.press("enter")
                await seat.sees("▸ matched in loudness", "↑↓ row ←→ turn")
                await seat.press(*keys)
                assert tuple(puppet.steers) == steers
                await seat.sees(shown)
                await seat.fits_everywhere()
                await seat.press("escape", "space")
                await seat.told(news.RollEnds(), news.Idle())

    play(flow())


def test_the_rows_are_those_of_what_is_heard_and_the_cursor_stays_on_one(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await seat.press("enter", *["down"] * 9)
            await seat.sees("▸ blind")
            await seat.press("D")
            await seat.press("left")
            shown = await seat.sees("▸ blind", "▸ D DI")
            assert "room 0 dB" not in shown
            await seat.press("escape")
            await seat.sees("↑↓ flip")
            assert puppet.stops == 0, "back to the sounds first"

    play(flow())


@pytest.mark.slow
def test_a_fader_goes_from_0_to_40_below_and_then_off(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await seat.press("enter", "down", "down", "down", "right", *["left"] * 42)
            await seat.sees("▸ close off")
            await seat.press("right")
            await seat.sees("▸ close −40 dB")

    play(flow())


# ------------------------------------------------------------------ the stretch


async def choose_bars(seat: Seat, words: str) -> None:
    await seat.press("6")
    await seat.sees("Which bars or seconds go round?")
    await seat.type(words)
    await seat.press("enter")


def bars(first: int, last: int) -> GoRound:
    """Return the frames of bars at 96 bpm in 4/4, 2.5 s each, of which the first begins at 0.25 s."""
    start, end = (round((0.25 + 2.5 * one) * RATE) for one in (first - 1, last))
    return GoRound(span=Span(start=start, end=end))


@pytest.mark.slow
def test_bars_go_round_on_their_frames_and_are_moved_by_their_own_length(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await choose_bars(seat, "bars 3-4")
            await seat.sees("listening bars 3-4", "goes round bars 3-4")
            await seat.press("full_stop")
            await seat.sees("listening bars 5-6")
            await seat.press("comma", "comma")
            await seat.sees("listening bars 1-2")
            expected = [bars(3, 4), bars(5, 6), bars(3, 4), bars(1, 2)]
            assert puppet.steers == expected
            await seat.press("comma")
            await seat.sees("listening bars 1-2", "no stretch so long lies before bars 1-2")
            assert puppet.steers == expected
            await seat.fits_everywhere()

    play(flow())


def test_seconds_go_round_and_an_empty_line_is_the_whole_again(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await choose_bars(seat, "1.5-3 s")
            await seat.press("enter", "down", "right")
            await seat.sees("▸ goes round 3-4.5 s")
            second = [(1.5, 3.0), (3.0, 4.5)]
            assert puppet.steers[:2] == [
                GoRound(span=Span(start=round(a * RATE), end=round(b * RATE))) for a, b in second
            ]
            await seat.press("comma", "comma", "comma")
            await seat.sees("▸ goes round 0-1.5 s", "no stretch so long lies before 0-1.5 s")
            await seat.press("6", *["backspace"] * 9, "enter")
            await seat.sees("goes round the whole part")
            assert puppet.steers[-1] == GoRound(span=Span(start=0, end=DI_FRAMES))

    play(flow())


def test_without_bars_moving_says_how_they_are_chosen(tmp_path: Path) -> None:
    async def flow() -> None:
        async with at_the_sounds(Puppet(tmp_path)) as seat:
            await seat.press("full_stop")
            await seat.sees("the whole part goes round; 6 chooses bars")

    play(flow())


def test_bars_that_are_not_there_are_refused_where_they_are_typed(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await choose_bars(seat, "bars 30-31")
            await seat.sees("the DI holds bars")
            await seat.press("escape")
            assert puppet.steers == []

    play(flow())


# ------------------------------------------------------------------ said, and left


def test_while_it_sounds_it_is_rated_and_kept_with_the_balance_that_is_heard(
    tmp_path: Path,
) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await seat.press("4")
            await seat.press("enter", "down", "down", "down", "left", "escape", "exclamation_mark")
            await seat.sees("What makes it a keeper?")
            await seat.type("it sits")
            await seat.press("enter")
            said = [one for one in asked(puppet) if isinstance(one, SayOfVariant)]
            heard = Balance(faders=(Fader(name="close", db=-1.0),))
            assert said == [
                SayOfVariant(part=NAMES.part, number=2, rating=4),
                SayOfVariant(
                    part=NAMES.part, number=2, keeper=True, reason="it sits", balance=heard
                ),
            ]
            assert puppet.stops == 0
            await seat.sees("space stop")

    play(flow())


def test_of_an_original_and_the_di_nothing_can_be_said(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await seat.press("C", "4", "exclamation_mark", "D", "i", "d")
            assert [type(one) for one in asked(puppet)] == [Listen]

    play(flow())


def test_escape_stops_and_goes_back_to_the_variants(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await seat.press("escape")
            assert puppet.stops == 1
            await seat.sees("▸variants")
            await seat.told(news.RollEnds(), news.Idle())
            await seat.press("enter")
            await seat.sees("to listen to", "nothing sounds")

    play(flow())


def test_space_and_s_stop_it_and_the_view_stays(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await roll(seat, puppet)
            await seat.press("space")
            assert puppet.stops == 1
            await seat.told(news.RollEnds(), news.Idle())
            await seat.sees("space listen", "to listen to", "nothing sounds")
            await roll(seat, puppet)
            await seat.press("s")
            assert puppet.stops == 2

    play(flow())


def test_a_key_that_is_held_starts_it_once(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await seat.press("space")
            await seat.hold("space", 20)
            assert [type(one) for one in asked(puppet)] == [Listen]
            assert puppet.stops == 0

    play(flow())


# ------------------------------------------------------------------ names


@pytest.mark.slow
@pytest.mark.parametrize("name", [HOSTILE[0], HOSTILE[3]])
def test_whatever_things_are_called_the_view_fits_and_steers_no_terminal(
    tmp_path: Path, name: str
) -> None:
    names = all_called(name)
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_the_sounds(puppet, names=names) as seat:
            await seat.sees("to listen to")
            await seat.press("enter", "down", "down", "down")
            await seat.fits_everywhere()

    play(flow())


named = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=30))


@settings(max_examples=60)
@given(named, named, st.integers(60, 200), st.none() | st.integers(0, 5), st.booleans())
def test_whatever_stands_there_every_line_fits(
    name: str, reason: str, columns: int, at: int | None, rolls: bool
) -> None:
    names = all_called(name or "nothing")
    now = replace(sounds(names), measured=rolls, read=1, out=("di",), before="001")
    said = Opinion(part=names.part, number=2, rating=3,
                   keeper=Keeper(reason=reason, balance=Balance()))  # fmt: skip
    rows = turns(now, stretch=name, blind=reason)
    lines = [
        head(now, columns, stretch=reason, sounds=rolls),
        *(sound_line(now, one, columns, said=said, listed=rolls) for one in now.sounds),
        *turn_lines(rows, at, key=lambda action: action[0]),
    ]
    for line in lines:
        assert line.plain.isprintable()
        assert cell_len(fitted(line, columns).plain) == columns


def test_letters_are_those_of_the_list_and_of_more_sounds_than_letters_the_rest_has_none() -> None:
    one = sounds(NAMES)
    assert [letter_of(one, sound.key) for sound in one.sounds] == ["A", "B", "C", "D"]
    assert letter_of(one, "007") == ""
    many = replace(one, sounds=tuple(replace(one.sounds[0], key=f"{n:03d}") for n in range(1, 31)))
    assert letter_of(many, "026") == LETTERS[-1] == "Z"
    assert letter_of(many, "027") == ""
    assert by_letter(many, "Z") == "026"
    assert by_letter(one, "E") is None
    for key in ("a", "up", "", "AB", "Ä"):
        assert by_letter(one, key) is None


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_of_many_sounds_the_one_that_is_heard_is_in_sight(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    one = sounds(NAMES)
    many = [replace(one.sounds[0], key=f"{n:03d}", number=n) for n in range(26, 0, -1)]
    puppet = Puppet(tmp_path)
    whole: ListeningNow = replace(one, sounds=tuple(many), heard="026", before="026", levels=())
    puppet.sounds = news.SoundsRead(part=NAMES.part, now=whole)

    async def flow() -> None:
        async with at_the_sounds(puppet, size=size) as seat:
            await seat.press("Z")
            await seat.sees("▸ Z 001")
            await seat.press("A")
            await seat.sees("▸ A 026")
            await seat.fits_everywhere()

    play(flow())
