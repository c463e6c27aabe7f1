"""The desk's side, over real sockets."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from card_cases import LONGEST_S, ROLLING, STANDING_BY, Heard, RawCard, changed, is_state
from hypothesis import given, settings
from hypothesis import strategies as st

from audio.files import platform
from audio.jobs import card_rules
from audio.jobs.card_rules import SILENT_S
from audio.jobs.cards import MOST_CARDS, CardServer
from audio.session import layout
from audio.vocab.card import VERSION, Drive, Go, Hello, Here, NotTaken, Role, Shown, Stop, encode
from audio.vocab.errors import UseError

GARBAGE = [b"hello\n", b"\n", b"\xff\xfe\n", b'{"press":"Start"}\n', b"x" * 300, b'{"press":\n']


class Desk:
    """A server whose clock stands still until moved, and what it was asked."""

    def __init__(self, folder: Path) -> None:
        self.now = 100.0
        self.asked: Heard[str] = Heard()
        self.server = CardServer(folder, asked=self.asked.put, clock=lambda: self.now)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    one = Desk(tmp_path)
    one.server.publish(STANDING_BY)
    yield one
    one.server.close()


def press_go(card: RawCard, *, at_s: float = 100.0) -> None:
    """Press go on the newest picture; a card that has not said it is here is the first one's."""
    shown = card.hear_until(lambda told: isinstance(told, Shown))
    card.say(encode(Go(number=shown.number, at_s=at_s)))


def is_driven_by(card: int | None) -> Callable[[object], bool]:
    return lambda told: isinstance(told, Role) and told.driver == card


def test_a_card_hears_the_version_then_the_newest_state(desk: Desk, tmp_path: Path) -> None:
    desk.server.publish(ROLLING)
    with RawCard(tmp_path) as card:
        assert card.hear() == Hello(version=VERSION)
        assert card.hear() == Role(card=0, cards=0, driver=None)
        assert card.hear() == Shown(number=2, state=ROLLING)


def test_two_cards_see_the_same_and_either_can_stop(desk: Desk, tmp_path: Path) -> None:
    with RawCard(tmp_path) as one, RawCard(tmp_path) as other:
        desk.server.publish(ROLLING)
        for card in (one, other):
            card.hear_until(is_state(ROLLING))
            card.say(encode(Stop()))
            assert desk.asked.next() == "stop"


def test_a_go_reaches_the_desk(desk: Desk, tmp_path: Path) -> None:
    with RawCard(tmp_path) as card:
        assert card.joined() == Role(card=1, cards=1, driver=1)
        press_go(card)
        assert desk.asked.next() == "go"


def test_a_go_on_an_old_picture_is_answered_and_starts_nothing(desk: Desk, tmp_path: Path) -> None:
    with RawCard(tmp_path) as card:
        card.joined()
        old = card.hear_until(lambda told: isinstance(told, Shown)).number
        desk.server.publish(changed(STANDING_BY, next="hook through crunch"))
        card.say(encode(Go(number=old, at_s=100.0)) + encode(Stop()))
        assert desk.asked.next() == "stop"
        told = card.hear_until(lambda told: isinstance(told, NotTaken))
        assert "just changed" in told.reason


def test_a_go_just_after_a_key_at_the_desk_starts_nothing(desk: Desk, tmp_path: Path) -> None:
    desk.server.pressed()
    desk.now += 0.4
    with RawCard(tmp_path) as card:
        card.joined()
        press_go(card)
        assert "too soon" in card.hear_until(lambda told: isinstance(told, NotTaken)).reason
        desk.now += 0.5
        press_go(card)
        assert desk.asked.next() == "go"


# ------------------------------------------------------------------ who drives


def test_a_second_card_watches_its_go_starts_nothing_and_its_stop_passes(
    desk: Desk, tmp_path: Path
) -> None:
    with RawCard(tmp_path) as first, RawCard(tmp_path) as second:
        first.joined()
        assert second.joined() == Role(card=2, cards=2, driver=1)
        press_go(second)
        reason = second.hear_until(lambda told: isinstance(told, NotTaken)).reason
        assert "this card watches: card 1 drives" in reason
        second.say(encode(Stop()))
        assert desk.asked.next() == "stop"
        assert desk.asked.empty()


def test_a_card_that_takes_over_drives_and_the_one_before_is_told(
    desk: Desk, tmp_path: Path
) -> None:
    with RawCard(tmp_path) as first, RawCard(tmp_path) as second:
        first.joined()
        second.joined()
        second.say(encode(Drive(at_s=100.0)))
        assert second.hear_until(is_driven_by(2)) == Role(card=2, cards=2, driver=2)
        lost = Role(card=1, cards=2, driver=2, lost="card 2 took over")
        assert first.hear_until(is_driven_by(2)) == lost
        desk.now += 1.0
        press_go(first, at_s=101.0)
        assert "watches" in first.hear_until(lambda told: isinstance(told, NotTaken)).reason
        desk.now += 1.0
        press_go(second, at_s=102.0)
        assert desk.asked.next() == "go"


def test_when_the_driver_is_gone_nobody_drives_until_another_card_takes_over(
    desk: Desk, tmp_path: Path
) -> None:
    with RawCard(tmp_path) as second:
        with RawCard(tmp_path) as first:
            first.joined()
            second.joined()
        assert second.hear_until(is_driven_by(None)) == Role(card=2, cards=1, driver=None)
        press_go(second)
        assert "no card drives" in second.hear_until(lambda told: isinstance(told, NotTaken)).reason
        second.say(encode(Drive(at_s=100.0)))
        second.hear_until(is_driven_by(2))
        desk.now += 1.0
        press_go(second, at_s=101.0)
        assert desk.asked.next() == "go"


def test_a_driver_that_falls_silent_drives_no_more_though_its_connection_stands(
    desk: Desk, tmp_path: Path
) -> None:
    with RawCard(tmp_path) as silent, RawCard(tmp_path) as watching:
        silent.joined()
        watching.joined()
        desk.now += SILENT_S + 0.1
        watching.hear_until(is_driven_by(None))
        lost = silent.hear_until(is_driven_by(None)).lost
        assert lost == "it fell silent for 4 s"
        silent.say(encode(Here()) + encode(Go(number=2, at_s=desk.now)))
        told = silent.hear_until(lambda told: isinstance(told, NotTaken))
        assert "this card watches: it fell silent for 4 s" in told.reason
        assert desk.asked.empty()


def test_signs_of_life_keep_the_driver(desk: Desk, tmp_path: Path) -> None:
    with RawCard(tmp_path) as card:
        card.joined()
        for _ in range(5):
            desk.now += SILENT_S - 0.5
            card.say(encode(Here()) + encode(Stop()))
            assert desk.asked.next() == "stop"
        desk.now += 1.0
        press_go(card, at_s=desk.now)
        assert desk.asked.next() == "go"


def test_who_only_reads_is_no_card_and_never_drives(desk: Desk, tmp_path: Path) -> None:
    with RawCard(tmp_path) as reader, RawCard(tmp_path) as card:
        reader.hear_until(is_state(STANDING_BY))
        assert card.joined() == Role(card=1, cards=1, driver=1)
        press_go(card)
        assert desk.asked.next() == "go"


@pytest.mark.parametrize("garbage", GARBAGE)
def test_garbage_ends_its_connection_and_nothing_else(
    desk: Desk, tmp_path: Path, garbage: bytes
) -> None:
    with RawCard(tmp_path) as bad, RawCard(tmp_path) as good:
        bad.say(encode(Stop()) + garbage)
        assert desk.asked.next() == "stop"  # what was said before it counts
        assert bad.was_left()
        good.say(encode(Stop()))
        assert desk.asked.next() == "stop"
        assert desk.asked.empty()


def test_half_a_line_has_no_effect(desk: Desk, tmp_path: Path) -> None:
    with RawCard(tmp_path) as card:
        card.say(encode(Stop())[:-1])
    with RawCard(tmp_path) as card:
        card.joined()
        card.say(encode(Go(number=0, at_s=100.0)))
        card.hear_until(lambda told: isinstance(told, NotTaken))
    assert desk.asked.empty()


def test_a_card_that_does_not_read_holds_nobody_up_and_then_sees_the_newest(
    desk: Desk, tmp_path: Path
) -> None:
    with RawCard(tmp_path) as slow, RawCard(tmp_path) as quick:
        for n in range(60):
            state = changed(ROLLING, said=f"{n:03d}" + "é" * 490)
            desk.server.publish(state)
            if n % 10 == 9:
                quick.hear_until(is_state(state))
        slow.say(encode(Stop()))
        assert desk.asked.next() == "stop"
        slow.hear_until(is_state(state))


@pytest.mark.usefixtures("desk")
def test_a_picture_is_repeated_as_a_sign_of_life(tmp_path: Path) -> None:
    with RawCard(tmp_path) as card:
        card.hear()
        assert [card.hear(), card.hear()] == [card.hear(), card.hear()]


def test_states_that_follow_quickly_are_not_all_sent(desk: Desk, tmp_path: Path) -> None:
    with RawCard(tmp_path) as card:
        card.hear_until(is_state(STANDING_BY))
        for n in range(500):
            desk.server.publish(changed(ROLLING, left_s=float(n)))
        heard = 1
        while card.hear() != Shown(number=2, state=changed(ROLLING, left_s=499.0)):
            heard += 1
        assert heard < 100


def test_one_card_too_many_is_turned_away(desk: Desk, tmp_path: Path) -> None:
    cards = [RawCard(tmp_path) for _ in range(MOST_CARDS)]
    for card in cards:
        assert card.hear() == Hello(version=VERSION)
    with RawCard(tmp_path) as further:
        assert further.was_left()
    cards[0].say(encode(Stop()))
    assert desk.asked.next() == "stop"
    for card in cards:
        card.__exit__()


@pytest.mark.parametrize("mask", [0o000, 0o077])
def test_only_the_user_can_open_the_socket(tmp_path: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        with CardServer(tmp_path, asked=print):
            path = layout.card_socket(tmp_path)
            assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
            assert stat.S_IMODE(path.stat().st_mode) == 0o600
    finally:
        os.umask(before)


def test_a_folder_left_open_to_others_is_closed_to_them(tmp_path: Path) -> None:
    layout.card_socket(tmp_path).parent.mkdir()
    layout.card_socket(tmp_path).parent.chmod(0o777)
    with CardServer(tmp_path, asked=print):
        assert stat.S_IMODE(layout.card_socket(tmp_path).parent.stat().st_mode) == 0o700


def test_a_link_in_the_folders_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    layout.card_socket(tmp_path).parent.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(UseError, match="is a link or another user's; remove it"):
        CardServer(tmp_path, asked=print)
    assert list((tmp_path / "elsewhere").iterdir()) == []


@pytest.mark.usefixtures("desk")
def test_another_user_is_turned_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own, other = os.geteuid(), os.geteuid() + 1

    def seen_by_the_desk(_: object) -> int:
        return other if threading.current_thread().name == "cards" else own

    monkeypatch.setattr(platform, "peer_user", seen_by_the_desk)
    with RawCard(tmp_path) as card:
        assert card.was_left()


@pytest.mark.usefixtures("desk")
def test_the_system_tells_who_the_other_end_is(tmp_path: Path) -> None:
    with RawCard(tmp_path) as card:
        assert platform.peer_user(card.socket) == os.geteuid()


@pytest.mark.parametrize("temporary", ["short", "long"])
def test_a_session_deeper_than_an_address_is_long_is_served(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, temporary: str
) -> None:
    deep = tmp_path.joinpath(*["a folder with a long name, é"] * 12)
    deep.mkdir(parents=True)
    assert len(os.fsencode(layout.card_socket(deep))) > 300
    home = deep if temporary == "long" else tmp_path / "t"
    home.mkdir(exist_ok=True)
    monkeypatch.setattr(tempfile, "tempdir", str(home))
    with CardServer(deep, asked=print) as server, RawCard(deep) as card:
        server.publish(ROLLING)
        card.hear_until(is_state(ROLLING))
        assert sorted(path.name for path in home.iterdir()) in ([], [".card"])


def test_a_session_named_from_where_one_stands_is_served(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with CardServer(Path(), asked=print), RawCard(tmp_path) as card:
        assert card.hear() == Hello(version=VERSION)


@pytest.mark.usefixtures("desk")
def test_a_second_desk_is_refused_and_the_first_goes_on(tmp_path: Path) -> None:
    with pytest.raises(UseError, match=r"is in use by .*process \d+"):
        CardServer(tmp_path, asked=print)
    with RawCard(tmp_path) as card:
        card.hear_until(is_state(STANDING_BY))


def test_the_socket_goes_when_the_desk_does(tmp_path: Path) -> None:
    server = CardServer(tmp_path, asked=print)
    with RawCard(tmp_path) as card:
        server.close()
        server.close()
        assert card.was_left()
    assert not layout.card_socket(tmp_path).exists()
    with CardServer(tmp_path, asked=print):
        assert layout.card_socket(tmp_path).exists()


SERVE = """
import sys
from pathlib import Path
from audio.jobs.cards import CardServer
CardServer(Path(sys.argv[1]), asked=print)
print("serving", flush=True)
sys.stdin.read()
"""


def test_the_socket_of_a_killed_desk_is_replaced(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-P", "-c", SERVE, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as killed:
        assert killed.stdout is not None
        assert killed.stdout.readline() == b"serving\n"
        with pytest.raises(UseError, match=f"process {killed.pid}"):
            CardServer(tmp_path, asked=print)
        killed.kill()
        killed.wait(LONGEST_S)
    assert layout.card_socket(tmp_path).exists()
    with CardServer(tmp_path, asked=print), RawCard(tmp_path) as card:
        assert card.hear() == Hello(version=VERSION)


def test_a_desk_can_show_and_close_from_inside_what_it_was_asked(tmp_path: Path) -> None:
    asked: Heard[str] = Heard()

    def obey(what: str) -> None:
        server.publish(ROLLING if what == "go" else STANDING_BY)
        if what == "stop":
            server.close()
        asked.put(what)

    server = CardServer(tmp_path, asked=obey, clock=lambda: 0.0)
    server.publish(STANDING_BY)
    with RawCard(tmp_path) as card:
        card.joined()
        press_go(card, at_s=0.0)
        assert asked.next() == "go"
        card.hear_until(is_state(ROLLING))
        card.say(encode(Stop()))
        assert asked.next() == "stop"
        assert card.was_left()


NOON_S = 100.0
Said = tuple[str, int]
SAID = st.lists(
    st.one_of(
        st.just(("stop", 0)),
        st.tuples(st.just("go"), st.integers(0, 5)),
        st.tuples(st.just("late go"), st.integers(0, 5)),
    ),
    max_size=12,
)


@pytest.mark.slow
@settings(max_examples=40)
@given(said=SAID, cut=st.integers(1, 200))
def test_whatever_a_card_sends_every_stop_passes_and_no_go_on_an_old_picture(
    said: list[Said], cut: int
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        asked, newest = _asked_after(Path(folder), [*said, ("stop", 0)], cut)
    expected = [
        "go" if one == ("go", newest) else "stop"
        for one in said
        if one[0] == "stop" or one == ("go", newest)
    ]
    assert asked == [*expected, "stop"]


def _asked_after(folder: Path, said: list[Said], cut: int) -> tuple[list[str], int]:
    """Say it all in two pieces to a desk whose clock stands still, at its newest picture."""
    asked: Heard[str] = Heard()
    with (
        pytest.MonkeyPatch.context() as patched,
        CardServer(folder, asked=asked.put, clock=lambda: NOON_S) as server,
    ):
        patched.setattr(card_rules, "APART_S", 0.0)  # or all but the first press came too soon
        for n in range(4):
            server.publish(changed(STANDING_BY, next=f"pass {n}"))
        with RawCard(folder) as card:
            card.joined()
            newest = card.hear_until(lambda told: isinstance(told, Shown)).number
            data = b"".join(map(_line, said))
            card.say(data[:cut])
            card.say(data[cut:])
            got: list[str] = []
            while got.count("stop") < sum(one[0] == "stop" for one in said):
                got.append(asked.next())
    return got, newest


def _line(one: Said) -> bytes:
    what, number = one
    if what == "stop":
        return encode(Stop())
    return encode(Go(number=number, at_s=NOON_S - (5.0 if what == "late go" else 0.0)))
