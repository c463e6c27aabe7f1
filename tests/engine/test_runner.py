"""The session at the desk: orders in, news out, in order; what a stop does, whenever it comes."""

from __future__ import annotations

import itertools
import random
import shutil
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import msgspec
import pytest
from accidents import wait_for
from needs import needs_samples
from sitting import RATE, Sitting, begins, kinds, make_session, only, wired

from audio.jobs import news
from audio.jobs.news import News
from audio.jobs.orders import (
    ChooseWiring,
    CloseStream,
    CloseUp,
    Count,
    LookAtDi,
    LookForDevices,
    OpenStream,
    Outline,
    RunPass,
    RunStep,
    Watch,
)
from audio.vocab.names import BARE_PATH
from audio.vocab.setup import AskDelay
from audio.vocab.variant import Summary

pytestmark = needs_samples()

PASS = RunPass(part="riff", chain="plain")
CLICK = RunStep(asked=AskDelay(), chain="plain")
SHORT_S = 1.0
LONG_S = 60.0
"""The free room plays this in about three seconds: long enough for something in the middle."""


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_session(tmp_path_factory.mktemp("short"), riff=SHORT_S, hook=SHORT_S)


@pytest.fixture(scope="module")
def long(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_session(tmp_path_factory.mktemp("long"), riff=LONG_S)


@pytest.fixture
def desk(short: Path, tmp_path: Path) -> Iterator[Sitting]:
    """A sitting with parts of a second."""
    shutil.copytree(short, tmp_path / "evening")
    with Sitting(tmp_path / "evening") as sitting:
        sitting.until(news.Ready)
        yield sitting


@pytest.fixture
def desk_by_the_clock(tmp_path: Path) -> Iterator[Sitting]:
    """A sitting with a part of a second, in a room where a click lasts as long as it sounds."""
    with Sitting(make_session(tmp_path, pace="clock", riff=SHORT_S)) as sitting:
        sitting.until(news.Ready)
        yield sitting


@pytest.fixture
def desk_of_a_minute(long: Path, tmp_path: Path) -> Iterator[Sitting]:
    """A sitting with a part of a minute."""
    shutil.copytree(long, tmp_path / "evening")
    with Sitting(tmp_path / "evening") as sitting:
        sitting.until(news.Ready)
        yield sitting


def rolls(told: list[News]) -> list[str]:
    return [one.roll.what for one in told if isinstance(one, news.RollBegins)]


def as_json(value: msgspec.Struct) -> dict[str, Any]:
    """Return a value as it would be read from a file."""
    found: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(value))
    return found


# ------------------------------------------------------------------ orders give news in order


def test_a_session_that_opens_shows_itself_before_it_is_ready(desk: Sitting) -> None:
    assert kinds(desk.heard) == [news.Snapshot, news.Ready]


def test_each_order_is_answered_in_its_turn_and_nothing_else_sounds(desk: Sitting) -> None:
    on_disk: list[bool] = []
    desk.when(
        lambda one: isinstance(one, news.PassDone),
        lambda: on_disk.append((desk.take(1) / "variant.json").exists()),
    )
    for order in (OpenStream(), CLICK, PASS, Count(), CloseStream()):
        desk.runner.ask(order)  # all at once: they take turns
    opening, click, passed, counted, closing = (desk.to_idle() for _ in range(5))
    assert kinds(opening)[-2:] == [news.StreamOpened, news.Idle]
    assert rolls(opening) == []
    assert rolls(click) == ["click", "listen", "click", "listen"]
    assert only(click, news.ClickDone).delay.delay_frames is not None
    assert only(passed, news.Claimed).number == 1
    # Opening click, the DI, closing click: the pass is all that sounds.
    assert rolls(passed) == ["click", "listen", "click", "listen", "pass", "click"]
    assert kinds(passed).count(news.RollEnds) == 6
    assert kinds(passed)[-3:] == [news.Snapshot, news.PassDone, news.Idle]
    done, shown = only(passed, news.PassDone), only(passed, news.Snapshot)
    assert shown.variants == (msgspec.convert(as_json(done.variant), Summary),)
    assert as_json(done.variant) == desk.variant(1)
    assert on_disk == [True], "the variant is there before the face hears of it"
    assert done.variant.number == 1
    assert (done.variant.state, done.fault, done.interrupted) == ("kept", None, False)
    assert only(counted, news.Counted).counters.callbacks > 0
    assert kinds(closing) == [news.StreamClosed, news.Idle]
    assert only(closing, news.StreamClosed).reason == ""
    assert desk.runner.status() is None


def test_no_order_that_needs_a_stream_sounds_without_one(desk: Sitting) -> None:
    for order in (CLICK, PASS, Count()):
        told = desk.obeyed(order)
        assert "open it at the send first" in only(told, news.Trouble).text
        assert rolls(told) == []
    assert not desk.take(1).exists()


@pytest.mark.slow
def test_placements_hold_for_one_stream_and_are_forgotten_with_it(desk: Sitting) -> None:
    desk.opened()
    assert desk.passed("plain").variant.chain_adds_frames is None
    desk.passed(BARE_PATH)
    known = desk.runner._known
    # The bare path of this stream is known now: what a chain adds can be told.
    assert desk.passed("plain").variant.chain_adds_frames == 0.0
    assert desk.runner._known is known
    desk.opened()
    assert desk.runner._known.bare is None
    assert desk.passed("plain").variant.chain_adds_frames is None


@pytest.mark.slow
def test_a_wiring_that_is_chosen_is_used_in_the_open_stream_at_once(desk: Sitting) -> None:
    desk.opened()
    chosen = wired(name="tonight", noise_dbfs=-80.0)
    told = desk.obeyed(ChooseWiring(wiring=chosen, name="tonight"))
    assert kinds(told) == [
        news.Snapshot, news.Said, news.StreamClosed, news.StreamOpened, news.Idle,
    ]  # fmt: skip
    assert only(told, news.Snapshot).wiring == chosen
    assert only(told, news.StreamOpened).wiring == chosen
    assert desk.passed().variant.setup["wiring"]["name"] == "tonight"


def test_no_pass_runs_through_a_watched_wiring_and_one_that_cannot_open_leaves_no_stream(
    desk: Sitting,
) -> None:
    told = desk.obeyed(Watch(wiring=wired(name="listening")))
    assert only(told, news.StreamOpened).wiring.name == "listening"
    told = desk.obeyed(PASS)
    assert "another wiring than the session's" in only(told, news.Trouble).text
    assert rolls(told) == []
    bad = wired(faults=({"kind": "no such fault"},))
    told = desk.obeyed(Watch(wiring=bad))
    assert kinds(told) == [news.StreamClosed, news.Trouble, news.Idle]
    assert "no such fault" in only(told, news.Trouble).text
    assert desk.runner.status() is None
    assert "open it at the send first" in only(desk.obeyed(PASS), news.Trouble).text


# ------------------------------------------------------------------ session.yaml edited meanwhile


def test_a_session_file_broken_while_open_is_said_with_its_line(desk: Sitting) -> None:
    desk.opened()
    path = desk.folder / "session.yaml"
    whole = path.read_text()
    for broken in ("songs: [\n", whole + "\nnonsense: 1\n", "\x00", ""):
        path.write_text(broken)
        told = desk.obeyed(PASS)
        assert str(path) in only(told, news.Trouble).text
        assert rolls(told) == []
    path.write_text(whole + "\nnonsense: 1\n")
    line = len(whole.splitlines()) + 2
    assert f"line {line}" in only(desk.obeyed(OpenStream()), news.Trouble).text
    path.write_text(whole)
    assert desk.passed().variant.number == 1


@pytest.mark.slow
def test_a_trim_edited_while_open_counts_for_the_next_pass(desk: Sitting) -> None:
    desk.opened()
    path = desk.folder / "session.yaml"
    path.write_text(path.read_text().replace("trim_db: 0.0", "trim_db: -6.0", 1))
    assert desk.passed().variant.trim_db == -6.0


# ------------------------------------------------------------------ stop


def test_a_stop_before_an_order_was_obeyed_lets_nothing_roll(desk: Sitting) -> None:
    desk.opened()
    desk.when(begins("click"), lambda: desk.runner.ask(PASS), desk.runner.stop)
    click, forgotten = desk.obeyed(CLICK), desk.to_idle()
    assert rolls(click) == ["click"]
    assert kinds(click)[-2:] == [news.Stopped, news.Idle]
    assert kinds(forgotten) == [news.Stopped, news.Idle]
    assert not desk.take(1).exists()


def test_an_order_after_a_stop_is_obeyed_and_the_stop_still_counts(desk: Sitting) -> None:
    desk.opened()
    desk.runner.stop()  # nothing sounds: it does no harm
    desk.when(begins("click"), desk.runner.stop, lambda: desk.runner.ask(PASS))
    click = desk.obeyed(CLICK)
    assert rolls(click) == ["click"]
    assert kinds(click)[-2:] == [news.Stopped, news.Idle]
    assert only(desk.to_idle(), news.PassDone).variant.state == "kept"


def test_a_stop_in_the_clicks_leaves_an_empty_number(desk: Sitting) -> None:
    desk.opened()
    for number, moment in enumerate((begins("click"), begins("listen"), begins("click", nth=2)), 1):
        desk.when(moment, desk.runner.stop)
        told = desk.obeyed(PASS)
        assert only(told, news.Claimed).number == number
        assert kinds(told)[-2:] == [news.Stopped, news.Idle]
        assert "pass" not in rolls(told)
    assert desk.events("empty") == [1, 2, 3]
    assert desk.is_settled()
    assert desk.passed().variant.number == 4


def test_a_stop_in_the_di_keeps_what_was_recorded(desk_of_a_minute: Sitting) -> None:
    desk = desk_of_a_minute.opened()
    desk.runner.ask(PASS)
    desk.wait_recorded(seconds=2.0)
    desk.runner.stop()
    desk.runner.stop()  # twice is once
    told = desk.to_idle()
    done = only(told, news.PassDone)
    assert (done.variant.state, done.interrupted, done.fault) == ("stopped", True, None)
    assert 2.0 < desk.recorded(1) < LONG_S
    assert rolls(told)[-1] == "pass", "no closing click after a stop"
    wait_for(desk.nothing_sounds, "it still sounds")


def test_a_stop_in_the_tail_keeps_the_whole_di(desk: Sitting) -> None:
    """The roll before it, too, waits for the echo, and for longer than the DI: its frames are not meant."""
    desk.opened()
    desk.runner.ask(RunPass(part="riff", chain="echo"))
    roll = desk.until(news.RollBegins, lambda one: one.roll.what == "pass").roll
    number = desk.roll_number

    def in_the_tail() -> bool:
        status = desk.runner.status()
        return (
            status is not None and status.roll_id == number and status.roll_frame > roll.plays_until
        )

    wait_for(in_the_tail, "there was no tail")
    desk.runner.stop()
    done = only(desk.to_idle(), news.PassDone)
    assert (done.variant.state, done.interrupted) == ("stopped", True)
    assert desk.recorded(1) >= SHORT_S


@pytest.mark.slow
def test_a_stop_in_the_closing_click_keeps_the_pass(desk_by_the_clock: Sitting) -> None:
    desk = desk_by_the_clock
    desk.opened()
    desk.when(begins("click", nth=3), desk.runner.stop)
    told = desk.obeyed(PASS)
    assert rolls(told)[-2:] == ["pass", "click"]
    done = only(told, news.PassDone)
    assert (done.variant.state, done.interrupted) == ("kept", False)
    assert done.variant.closing_click == ()


def _comes(number: int) -> Callable[[News], bool]:
    """Return whether so many pieces of news have come."""
    left = itertools.count(number, -1)
    return lambda _: next(left) == 1


def _stopped_somewhere(desk: Sitting, number: int, rng: random.Random) -> str:
    """Stop a pass at some news, after some time, or some time into the DI; return how it ended."""
    timer = threading.Timer(rng.uniform(0.0, 0.6), desk.runner.stop)
    match number % 3:
        case 0:
            desk.when(_comes(rng.randrange(1, 24)), desk.runner.stop)
        case 1:
            desk.when(lambda _: True, timer.start)
        case _:
            desk.when(begins("pass"), timer.start)
    told = desk.obeyed(PASS)
    desk.forget_moments()
    if timer.ident is not None:
        timer.cancel()
        timer.join()
    wait_for(desk.nothing_sounds, "it still sounds")
    assert desk.is_settled()
    if news.PassDone in kinds(told):
        assert as_json(only(told, news.PassDone).variant) == desk.variant(number)
        return str(desk.variant(number)["state"])
    assert news.Stopped in kinds(told)
    assert not list(desk.take(number).glob("riff_*.wav"))
    return "empty"


@pytest.mark.slow
def test_a_stop_at_any_moment_leaves_nothing_sounding_and_loses_nothing(tmp_path: Path) -> None:
    rng = random.Random(20)  # noqa: S311 - moments, no secrets
    folder = make_session(tmp_path, riff=8.0)
    with Sitting(folder) as desk:
        desk.opened()
        ends = [_stopped_somewhere(desk, number, rng) for number in range(1, 31)]
        assert desk.passed().variant.state == "kept"
    # The moments fall before, into and after the DI; else this would claim less than it says.
    assert {"empty", "stopped", "kept"} == set(ends)


# ------------------------------------------------------------------ questions beside a pass


@pytest.mark.slow
def test_questions_are_answered_while_a_pass_rolls(desk_of_a_minute: Sitting) -> None:
    desk = desk_of_a_minute.opened()
    di = desk.runner._session.part("riff")[1].revisions[-1].file
    questions = (
        Outline(path=di),
        CloseUp(path=di, at_frame=1000, frames=500),
        LookAtDi(part="riff"),
        LookForDevices(),
    )
    desk.when(begins("click"), *(partial(desk.runner.look, one) for one in questions))
    told = desk.obeyed(PASS)
    assert kinds(told)[-2:] == [news.PassDone, news.Idle], "all of them came before"
    assert only(told, news.Outlined).outlines is not None
    assert len(only(told, news.Closeup).samples) == 2 * 500
    read = only(told, news.DiRead)
    assert read.facts is not None
    assert (read.facts.frames, read.problem) == (int(LONG_S * RATE), "")
    assert only(told, news.Devices).devices is not None
    assert only(told, news.PassDone).variant.dropouts == ()


def _spoil(desk: Sitting, what: str) -> str:
    di = desk.runner._session.part("hook")[1].revisions[-1].file
    path = desk.folder / di
    if what == "missing":
        path.unlink()
    elif what == "no sound":
        path.write_text("a shopping list")
    else:
        path.write_bytes((desk.folder / "di" / "riff.r1.wav").read_bytes())
    return di


@pytest.mark.parametrize(
    ("what", "says"),
    [("missing", "No such file"), ("no sound", "hook.r1.wav"), ("changed", "was changed since")],
)
def test_a_di_that_cannot_be_played_says_why(
    short: Path, tmp_path: Path, what: str, says: str
) -> None:
    shutil.copytree(short, tmp_path / "evening")
    with Sitting(tmp_path / "evening") as desk:
        di = _spoil(desk, what)
        read = desk.looked(LookAtDi(part="hook"), news.DiRead)
        assert says in read.problem
        assert "\n" not in read.problem
        outlined = desk.looked(Outline(path=di), news.Outlined)
        assert (outlined.outlines is None) == (what != "changed")
        assert bool(outlined.problem) == (what != "changed")
        desk.runner.look(CloseUp(path=di, at_frame=0, frames=10))
        if what != "changed":
            assert "hook.r1.wav" in desk.until(news.Trouble).text
        # None of it keeps the next question from its answer.
        assert desk.looked(LookAtDi(part="riff"), news.DiRead).problem == ""


def test_a_part_that_is_not_there_is_named_with_those_that_are(desk: Sitting) -> None:
    read = desk.looked(LookAtDi(part="solo"), news.DiRead)
    assert "riff, hook" in read.problem


# ------------------------------------------------------------------ the disk


@pytest.mark.slow
def test_what_the_disk_has_left_is_told_now_and_then(desk: Sitting) -> None:
    first, second = desk.until(news.Disk), desk.until(news.Disk)
    free = shutil.disk_usage(desk.folder).free
    for one in (first, second):
        assert one.free_bytes == pytest.approx(free, rel=0.1)


@pytest.mark.slow
def test_a_disk_that_goes_away_is_said_once(desk: Sitting) -> None:
    desk.until(news.Disk)
    away = desk.folder.with_name("away")
    desk.folder.rename(away)
    assert "cannot be read" in desk.until(news.Trouble).text
    away.rename(desk.folder)
    before: list[News] = []
    while not isinstance(before[-1:] and before[-1], news.Disk):
        before.append(desk.next())
    assert kinds(before) == [news.Disk]
