"""The card in the amp room: what it shows and what its keys do, at a phone's size and at others."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Awaitable, Callable
from pathlib import Path

import msgspec
import pytest
from installed import run
from test_import_hygiene import HEAVY, loaded_after
from textual._xterm_parser import XTermParser
from textual.events import CursorPosition
from textual.pilot import Pilot

from audio.jobs.card_client import CardClient, CardNews, Lost
from audio.jobs.cards import CardServer
from audio.session.folder import create
from audio.vocab.card import CardLine, CardState, NotTaken, Role, Shown
from tui.screens.card import ASK_TERMINAL, SEEN_S, CardApp
from tui.settings import Settings
from tui.widgets.banner import Banner
from tui.widgets.lines import Lines

SIZES = [(40, 20), (80, 24), (200, 60)]

STANDING_BY = CardState(
    session="harbour lights",
    song="low water",
    part="rhythm-left",
    chain="fuzz into delay",
    word="stand by",
    sounding=False,
    next="rhythm-left through fuzz into delay, as pass 007",
    may_go=True,
)


def changed(state: CardState, **fields: object) -> CardState:
    return msgspec.structs.replace(state, **fields)


ROLLING = changed(
    STANDING_BY,
    word="rolling",
    number=7,
    sounding=True,
    left_s=71.2,
    may_go=False,
    may_stop=True,
    next="",
)
COUNTDOWN = changed(ROLLING, word="countdown", sounding=False, left_s=None, countdown_s=2.4)
VERDICT = changed(
    STANDING_BY,
    word="verdict",
    number=7,
    verdict="redo",
    finding="silent from 0:41: cable, fuse or standby",
    advice="check the speaker cable with the amp on standby, then go again",
)

ALONE = Role(card=1, cards=1, driver=1)
DRIVES = Role(card=1, cards=2, driver=1)
WATCHES = Role(card=2, cards=2, driver=1)
TAKEN = Role(card=1, cards=2, driver=2, lost="card 2 took over")
SILENT = Role(card=1, cards=1, driver=None, lost="it fell silent for 4 s")
NOBODY = Role(card=2, cards=2, driver=None)

HOSTILE = [
    "[bold]x[/bold] [/] [link=http://a]b[/link]",
    "\x1b[2J\x1b]0;owned\x07\r\n\t",
    "\u202eleft to right\u202c عربى עברית",
    "漢字" * 100,
    "e\u0301" * 200,
    "'\"\\${}",
]


class Wire:
    """A way to a desk that exists only in the test: notes what was sent, says what the test says."""

    def __init__(self) -> None:
        self.sent: list[tuple[str, int]] = []
        self.signs = 0
        self.open = True
        self.closed = False
        self.heard: Callable[[CardNews], None] = print

    def start(self, heard: Callable[[CardNews], None]) -> None:
        self.heard = heard

    def go(self, number: int) -> bool:
        self.sent += [("go", number)] if self.open else []
        return self.open

    def stop(self) -> bool:
        self.sent += [("stop", 0)] if self.open else []
        return self.open

    def drive(self) -> bool:
        self.sent += [("drive", 0)] if self.open else []
        return self.open

    def here(self) -> bool:
        self.signs += 1
        return self.open

    def close(self) -> None:
        self.closed = True


class Room:
    """A card under test, its wire, and a clock that a test moves."""

    def __init__(self, app: CardApp, wire: Wire, pilot: Pilot[None]) -> None:
        self.app, self.wire, self.pilot = app, wire, pilot
        self.number = 0

    async def show(self, state: CardState, *, same: bool = False) -> None:
        if self.app._picture.role is None:
            await self.say(ALONE)
        self.number += 0 if same else 1
        await self.say(Shown(number=self.number, state=state))

    async def say(self, news: CardNews) -> None:
        self.wire.heard(news)
        await self.pilot.pause()

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.pilot.pause()

    def words(self, *names: str) -> str:
        return "\n".join(self.app.query_one(f"#{name}", Lines).words for name in names)

    @property
    def everything(self) -> str:
        return self.words("top", "chain", "told", "ahead", "keys")

    @property
    def large(self) -> str:
        return self.app.query_one("#word", Banner).said.lstrip("■▲× ")


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def in_the_room(
    body: Callable[[Room, Clock], Awaitable[None]],
    *,
    size: tuple[int, int] = (40, 20),
    settings: Settings | None = None,
    end: threading.Event | None = None,
) -> Wire:
    async def go() -> Wire:
        wire, clock = Wire(), Clock()
        app = CardApp(
            wire, settings=settings or Settings(), end=end or threading.Event(), clock=clock
        )
        async with app.run_test(size=size) as pilot:
            await body(Room(app, wire, pilot), clock)
        return wire

    return asyncio.run(go())


@pytest.mark.parametrize("size", SIZES)
def test_what_is_next_is_shown_with_go_and_its_caution(size: tuple[int, int]) -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(STANDING_BY)
        assert room.large == "STAND BY"
        for words in (
            "harbour lights ▸ rhythm-left",
            "fuzz into delay",
            "next: rhythm-left",
            "space go",
        ):
            assert words in room.everything
        assert "ears away from the speaker" in room.everything
        assert "□ nothing sounds" in room.everything

    in_the_room(body, size=size)


@pytest.mark.parametrize("size", SIZES)
def test_a_rolling_pass_shows_the_time_left_and_stop(size: tuple[int, int]) -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(ROLLING)
        assert room.large == "ROLLING"
        assert room.app.query_one("#figure", Banner).said == "1:12"
        assert "■ SENDING" in room.everything
        assert "pass 007" in room.everything
        assert "stop" in room.words("keys")
        assert "space go" not in room.words("keys")
        await room.show(changed(ROLLING, left_s=4.0), same=True)
        assert room.app.query_one("#figure", Banner).said == "0:04"

    in_the_room(body, size=size)


@pytest.mark.parametrize("size", SIZES)
def test_a_verdict_stands_large_with_its_finding_and_advice(size: tuple[int, int]) -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(VERDICT)
        assert room.large == "REDO"
        shown = " ".join(room.everything.split())
        assert "silent from 0:41: cable, fuse or standby" in shown
        assert "check the speaker cable with the amp on standby, then go again" in shown

    in_the_room(body, size=size)


@pytest.mark.parametrize("size", SIZES)
def test_a_countdown_stands_large(size: tuple[int, int]) -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(COUNTDOWN)
        assert (room.large, room.app.query_one("#figure", Banner).said) == ("STARTS", "3")
        assert "stop" in room.words("keys")
        assert "ears away from the speaker" in room.everything

    in_the_room(body, size=size)


def test_a_chain_to_be_plugged_in_stands_large_where_there_is_room() -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(STANDING_BY)
        assert room.app.query_one("#large-chain", Banner).said == "fuzz into delay"
        assert room.app.query_one("#large-chain").display
        await room.show(changed(STANDING_BY, chain="漢字 [b]"))
        assert not room.app.query_one("#large-chain").display
        assert "漢字 [b]" in room.words("chain")

    in_the_room(body, size=(80, 24))


def test_everything_that_matters_stands_inside_a_phones_screen() -> None:
    async def body(room: Room, _: Clock) -> None:
        for state in (STANDING_BY, COUNTDOWN, ROLLING, VERDICT):
            await room.show(state)
            for widget in room.app.query(Lines):
                assert widget.region.bottom <= 20
                assert len(widget.words.splitlines()) <= max(widget.size.height, 1)

    in_the_room(body)


def test_space_starts_what_the_shown_picture_named() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(STANDING_BY)
        await room.show(changed(STANDING_BY, chain="crunch"))
        clock.now += 1.0
        await room.press("space")
        assert room.wire.sent == [("go", 2)]

    in_the_room(body)


@pytest.mark.slow
def test_a_held_space_starts_once_and_never_becomes_a_stop() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(STANDING_BY)
        clock.now += 1.0
        await room.press("space")
        await room.show(COUNTDOWN)
        for _ in range(60):
            clock.now += 0.03
            await room.press("space")
        assert room.wire.sent == [("go", 1)]

    in_the_room(body)


def test_space_just_after_the_picture_changed_starts_nothing_and_says_so() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(STANDING_BY)
        clock.now += 1.0
        await room.show(VERDICT)
        clock.now += 0.2
        await room.press("space")
        assert room.wire.sent == []
        assert "just changed" in room.words("ahead")

    in_the_room(body)


@pytest.mark.parametrize("state", [ROLLING, COUNTDOWN, changed(ROLLING, may_stop=False)])
def test_space_stops_what_sounds_or_is_about_to(state: CardState) -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(state)
        await room.press("space")
        assert room.wire.sent == [("stop", 0)]
        assert "stop sent" in room.words("ahead")

    in_the_room(body)


@pytest.mark.parametrize("state", [STANDING_BY, ROLLING, COUNTDOWN, VERDICT, None])
def test_s_always_stops_however_often_it_is_pressed(state: CardState | None) -> None:
    async def body(room: Room, _: Clock) -> None:
        if state:
            await room.show(state)
        await room.press("s", "s", "s")
        assert room.wire.sent == [("stop", 0)] * 3

    in_the_room(body)


def test_space_does_nothing_where_nothing_can_start() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(changed(STANDING_BY, may_go=False, word="judging"))
        clock.now += 1.0
        await room.press("space")
        assert room.wire.sent == []
        assert "nothing to start" in room.words("ahead")
        assert "ears away" not in room.words("ahead")

    in_the_room(body)


# ------------------------------------------------------------ which card drives


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("role", "words"),
    [
        (DRIVES, "card 1 of 2 drives"),
        (WATCHES, "card 2 watches: card 1 drives"),
        (TAKEN, "card 1 watches: card 2 took over"),
        (SILENT, "card 1 watches: it fell silent for 4 s"),
        (NOBODY, "card 2 watches: no card drives"),
    ],
)
def test_the_card_says_whether_it_drives_or_watches_and_who_does(
    size: tuple[int, int], role: Role, words: str
) -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.say(role)
        for state in (STANDING_BY, COUNTDOWN, ROLLING, VERDICT):
            await room.show(state)
            assert words in " ".join(room.everything.split())
            told = room.app.query_one("#told", Lines)
            assert len(told.words.splitlines()) <= told.size.height

    in_the_room(body, size=size)


def test_the_only_card_drives_and_says_nothing_of_it() -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(STANDING_BY)
        assert "drives" not in room.everything
        assert "card 1" not in room.everything
        assert "take over" not in room.everything

    in_the_room(body)


@pytest.mark.parametrize("role", [WATCHES, TAKEN, SILENT, NOBODY])
def test_on_a_watching_card_go_starts_nothing_and_stop_stops(role: Role) -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.say(role)
        await room.show(STANDING_BY)
        clock.now += 1.0
        assert "go" not in room.words("keys").split()
        assert "s stop t take over q leave" in " ".join(room.words("keys").split())
        await room.press("space")
        assert room.wire.sent == []
        assert "this card watches; t takes over" in " ".join(room.words("ahead").split())
        await room.press("s")
        await room.show(ROLLING)
        clock.now += 1.0
        await room.press("space")
        assert room.wire.sent == [("stop", 0)] * 2

    in_the_room(body)


def test_one_press_takes_over_and_starts_nothing_and_go_works_half_a_second_later() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.say(WATCHES)
        await room.show(STANDING_BY)
        clock.now += 1.0
        await room.press("t")
        assert room.wire.sent == [("drive", 0)]
        assert "asked to drive" in room.words("ahead")
        await room.say(Role(card=2, cards=2, driver=2))
        await room.show(STANDING_BY)
        clock.now += 0.3
        await room.press("space")
        assert room.wire.sent == [("drive", 0)]
        clock.now += 1.0
        await room.press("space")
        assert room.wire.sent == [("drive", 0), ("go", 2)]

    in_the_room(body)


@pytest.mark.slow
@pytest.mark.parametrize("key", ["t", "space"])
def test_a_held_key_takes_over_once_and_starts_nothing(key: str) -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.say(WATCHES)
        await room.show(STANDING_BY)
        clock.now += 1.0
        for _ in range(8):
            clock.now += 0.03
            await room.press(key)
        await room.say(Role(card=2, cards=2, driver=2))
        await room.show(STANDING_BY)
        for _ in range(8):
            clock.now += 0.03
            await room.press(key)
        assert room.wire.sent == ([("drive", 0)] if key == "t" else [])

    in_the_room(body)


def test_a_card_that_drives_already_asks_for_nothing() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(STANDING_BY)
        clock.now += 1.0
        await room.press("t")
        assert room.wire.sent == []
        assert "drives already" in room.words("ahead")

    in_the_room(body)


def test_a_lost_desk_leaves_no_word_of_who_drives() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.say(WATCHES)
        await room.show(STANDING_BY)
        await room.say(Lost(reason="the program at the desk has ended"))
        assert "drives" not in room.everything
        clock.now += 1.0
        await room.press("t")
        assert room.wire.sent == []
        assert "not sent: look at the desk" in room.words("ahead")

    in_the_room(body)


def test_a_terminal_that_stops_answering_gives_no_sign_of_life_and_starts_nothing() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(STANDING_BY)
        room.app.on_cursor_position(CursorPosition(0, 0))
        clock.now += SEEN_S + 1.0
        signs = room.wire.signs
        room.app._give_sign()
        assert room.wire.signs == signs
        await room.press("space")
        assert room.wire.sent == []
        assert "out of reach for a moment" in " ".join(room.words("ahead").split())
        room.app.on_cursor_position(CursorPosition(0, 0))
        room.app._give_sign()
        assert room.wire.signs == signs + 1
        clock.now += 1.0
        await room.press("space", "s")
        assert room.wire.sent == [("go", 1), ("stop", 0)]

    in_the_room(body)


def test_a_terminals_answer_is_no_key_to_the_library() -> None:
    (answer,) = XTermParser().feed("\x1b[1;1R")
    assert isinstance(answer, CursorPosition)


def test_a_terminal_that_never_answered_is_taken_as_one_that_is_seen() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(STANDING_BY)
        clock.now += 60.0
        signs = room.wire.signs
        room.app._give_sign()
        assert room.wire.signs == signs + 1
        await room.press("space")
        assert room.wire.sent == [("go", 1)]

    in_the_room(body)


@pytest.mark.parametrize(("keys", "asked"), [({}, True), ({"go": ("1",)}, False)])
def test_the_terminal_is_asked_unless_a_torn_answer_could_press_a_key(
    keys: dict[str, tuple[str, ...]], asked: bool
) -> None:
    async def body(room: Room, _: Clock) -> None:
        written: list[str] = []
        assert room.app._driver is not None
        room.app._driver.write = written.append  # type: ignore[method-assign]
        room.app._give_sign()
        assert (ASK_TERMINAL in written) == asked

    in_the_room(body, settings=Settings(keys=keys))


def test_a_refused_go_is_told() -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(STANDING_BY)
        await room.say(NotTaken(reason="there is nothing to start now"))
        assert "not taken: there is nothing to start now" in " ".join(room.words("ahead").split())

    in_the_room(body)


@pytest.mark.parametrize("size", SIZES)
def test_a_lost_desk_is_said_and_nothing_is_claimed_about_sound(size: tuple[int, int]) -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(ROLLING)
        await room.say(Lost(reason="the program at the desk has ended"))
        assert room.large == "NO DESK"
        assert "not connected: look at the desk" in room.everything
        assert "nothing sounds" not in room.everything
        assert "SENDING" not in room.everything
        assert "1:12" not in room.everything
        room.wire.open = False
        clock.now += 1.0
        await room.press("space", "s")
        assert room.wire.sent == []
        assert "not sent: look at the desk" in room.words("ahead")
        await room.show(STANDING_BY)
        assert room.large == "STAND BY"

    in_the_room(body, size=size)


def test_before_the_desk_speaks_nothing_is_claimed() -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.pilot.pause()
        assert room.large == "WAIT"
        assert "nothing sounds" not in room.everything

    in_the_room(body)


@pytest.mark.slow
@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("size", SIZES)
def test_names_cannot_steer_the_screen(name: str, size: tuple[int, int]) -> None:
    texts = ("session", "song", "part", "chain", "finding", "advice", "next", "said")

    async def body(room: Room, _: Clock) -> None:
        for state in (ROLLING, VERDICT, COUNTDOWN):
            await room.show(changed(state, **dict.fromkeys(texts, name)))
            await room.say(NotTaken(reason=name))
            assert "\x1b" not in room.everything
            assert "\u202e" not in room.everything
            keys = room.app.query_one("#keys", Lines)
            assert keys.region.bottom == size[1]
            assert "stop" in keys.words
        await room.say(Lost(reason=name))
        assert room.large == "NO DESK"

    in_the_room(body, size=size)


def test_the_card_follows_a_live_resize() -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(ROLLING)
        for width, height in ((200, 60), (40, 20), (20, 8), (1, 1), (80, 24)):
            await room.pilot.resize_terminal(width, height)
            await room.pilot.pause()
            await room.show(changed(ROLLING, left_s=float(width)), same=True)
        assert "■ SENDING: the amp plays" in room.everything

    in_the_room(body)


def test_without_colour_every_word_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")

    async def body(room: Room, _: Clock) -> None:
        for state, word in ((ROLLING, "ROLLING"), (VERDICT, "REDO"), (STANDING_BY, "STAND BY")):
            await room.show(state)
            assert room.large == word
        await room.say(Lost(reason="the program at the desk has ended"))
        assert "not connected" in room.everything

    in_the_room(body)


def test_the_users_own_keys_hold() -> None:
    async def body(room: Room, clock: Clock) -> None:
        await room.show(STANDING_BY)
        clock.now += 1.0
        assert "f5 go" in room.words("keys")
        await room.press("space")
        assert room.wire.sent == []
        await room.press("f5")
        assert room.wire.sent == [("go", 1)]

    in_the_room(body, settings=Settings(keys={"go": ("f5",)}))


@pytest.mark.parametrize("key", ["q", "ctrl+c"])
def test_leaving_stops_nothing_and_parts_from_the_desk(key: str) -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(ROLLING)
        await room.press(key)
        assert not room.app.is_running or room.app._exit

    wire = in_the_room(body)
    assert wire.sent == []
    assert wire.closed


def test_a_process_asked_to_end_leaves_the_card() -> None:
    end = threading.Event()
    left = threading.Event()

    async def go() -> None:
        wire = Wire()
        app = CardApp(wire, settings=Settings(), end=end)
        async with app.run_test(size=(40, 20)) as pilot:
            end.set()
            while not app._exit:
                await pilot.pause()
            left.set()

    asyncio.run(asyncio.wait_for(go(), 20))
    assert left.is_set()


# ------------------------------------------------------------ with a desk, over the socket


@pytest.fixture
def session(tmp_path: Path) -> Path:
    create(tmp_path / "tonight", name="harbour lights", song="low water")
    return tmp_path / "tonight"


def test_go_and_stop_reach_a_real_desk(session: Path) -> None:
    asked: list[str] = []

    def obey(what: str) -> None:
        asked.append(what)
        server.publish(ROLLING if what == "go" else VERDICT)

    async def go() -> None:
        clock = Clock()
        app = CardApp(CardClient(session), settings=Settings(), end=threading.Event(), clock=clock)
        async with app.run_test(size=(40, 20)) as pilot:
            while app._picture.role is None or not app._picture.role.drives:
                await pilot.pause()
            for word, key in (("STAND BY", "space"), ("ROLLING", "space"), ("REDO", "q")):
                while app.query_one("#word", Banner).said.lstrip("■▲× ") != word:
                    await pilot.pause()
                clock.now += 1.0
                await pilot.press(key)

    with CardServer(session, asked=obey) as server:
        server.publish(STANDING_BY)
        asyncio.run(asyncio.wait_for(go(), 20))
    assert asked == ["go", "stop"]


def test_without_a_terminal_the_state_is_one_line(session: Path, tmp_path: Path) -> None:
    with CardServer(session, asked=print) as server:
        server.publish(ROLLING)
        ran = run("card", str(session), folder=tmp_path)
    assert ran.code == 0
    assert ran.out.count("\n") == 1
    for words in ("harbour lights", "rhythm-left", "rolling", "pass 007", "1:12 left", "sounds"):
        assert words in ran.out


def test_json_is_the_state_itself(session: Path, tmp_path: Path) -> None:
    with CardServer(session, asked=print) as server:
        server.publish(VERDICT)
        ran = run("card", str(session), "--json", folder=tmp_path)
    assert ran.code == 0
    assert json.loads(ran.out)["verdict"] == "redo"  # the standard library reads it as well
    assert msgspec.json.decode(ran.out, type=CardState) == VERDICT


def test_telling_the_state_loads_neither_the_arithmetic_nor_the_screen(
    session: Path, tmp_path: Path
) -> None:
    with CardServer(session, asked=print) as server:
        server.publish(ROLLING)
        loaded = loaded_after("card", str(session), folder=tmp_path)
    assert "audio" in loaded
    assert loaded.isdisjoint(HEAVY)


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_no_program_is_one_sentence(session: Path, tmp_path: Path, more: tuple[str, ...]) -> None:
    ran = run("card", str(session), *more, folder=tmp_path)
    assert ran.code == 2
    assert ran.out == ""
    assert "no program has the session open; open it with `secondpass open" in ran.err
    assert len(ran.lines) == 1


def test_no_session_is_one_sentence(tmp_path: Path) -> None:
    ran = run("card", "gone", folder=tmp_path)
    assert ran.code == 2
    assert "there is no such folder" in ran.err


LONG = changed(
    STANDING_BY,
    word="by hand",
    place="card 2 of 9",
    advice="standby while replugging",
    said="click at -40 dBFS",
    card=tuple(CardLine(word="", name=f"box {n}", settings=("level 3",)) for n in range(20)),
)


@pytest.mark.slow
def test_a_chain_that_does_not_fit_on_a_phone_says_so_and_is_walked() -> None:
    async def body(room: Room, _: Clock) -> None:
        await room.show(LONG)
        shown = room.words("by-hand", "told", "ahead", "keys")
        assert "box 0 " in shown
        assert "lines more" in shown
        assert "standby while replugging" in shown
        assert "space go" in shown
        assert "click at" not in shown  # who sets a chain needs the room
        await room.press(*["down"] * 25)
        shown = room.words("by-hand")
        assert "box 19" in shown
        assert "lines more" not in shown
        await room.press("up")  # the end was not walked past
        assert "lines more" in room.words("by-hand")
        await room.show(changed(LONG, place="card 3 of 9"))
        assert "box 0 " in room.words("by-hand")
        assert not room.wire.sent

    in_the_room(body)
