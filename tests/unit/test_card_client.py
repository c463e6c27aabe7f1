"""The amp room's side, over real sockets."""

from __future__ import annotations

import socket
import threading
from contextlib import suppress
from pathlib import Path
from typing import Self

import pytest
from card_cases import ROLLING, STANDING_BY, Heard, is_state, make_session

from audio.files import peer, platform
from audio.jobs.card_client import CardClient, CardNews, Lost, read_card
from audio.jobs.cards import CardServer
from audio.session import layout
from audio.vocab.card import VERSION, Hello, NotTaken, Role, Shown, Stop, encode
from audio.vocab.errors import DeviceError, UseError

SOON_S = 0.05
HELLO = encode(Hello(version=VERSION))


@pytest.fixture
def session(tmp_path: Path) -> Path:
    return make_session(tmp_path / "tonight")


class Other:
    """A program that answers cards with fixed words, and more only when a test makes it."""

    def __init__(self, session: Path, *said: bytes) -> None:
        peer.make_private(layout.card_socket(session).parent)
        self._listener = peer.listen(layout.card_socket(session))
        self._listener.setblocking(True)
        self._said = b"".join(said)
        self.cards: Heard[socket.socket] = Heard()
        self._thread = threading.Thread(target=self._answer)
        self._thread.start()

    def _answer(self) -> None:
        with suppress(OSError):
            while True:
                card, _ = self._listener.accept()
                card.sendall(self._said)
                self.cards.put(card)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)
        self._thread.join()
        self._listener.close()
        while not self.cards.empty():
            self.cards.next().close()


def is_lost(news: CardNews) -> bool:
    return isinstance(news, Lost)


def test_a_card_sees_the_desk_and_its_go_and_stop_arrive(session: Path) -> None:
    asked: Heard[str] = Heard()
    heard: Heard[CardNews] = Heard()
    with CardServer(session, asked=asked.put) as server:
        server.publish(STANDING_BY)
        with CardClient(session) as card:
            card.start(heard.put)
            assert card.here()
            heard.until(lambda news: isinstance(news, Role) and news.drives)
            shown = heard.next()
            assert isinstance(shown, Shown)
            assert shown.state == STANDING_BY
            assert card.go(shown.number)
            assert asked.next() == "go"
            server.publish(ROLLING)
            heard.until(is_state(ROLLING))
            assert card.stop()
            assert asked.next() == "stop"


def test_a_go_that_was_not_taken_is_told(session: Path) -> None:
    heard: Heard[CardNews] = Heard()
    with CardServer(session, asked=print) as server:
        server.publish(ROLLING)
        with CardClient(session) as card:
            card.start(heard.put)
            card.here()
            card.go(2)
            told = heard.until(lambda news: isinstance(news, NotTaken))
            assert told == NotTaken(reason="there is nothing to start now")


def test_a_desk_that_ends_is_told_and_found_again_when_it_is_back(session: Path) -> None:
    heard: Heard[CardNews] = Heard()
    server = CardServer(session, asked=print)
    server.publish(ROLLING)
    with CardClient(session, retry_s=SOON_S) as card:
        card.start(heard.put)
        heard.until(is_state(ROLLING))
        server.close()
        assert heard.until(is_lost) == Lost(reason="the program at the desk has ended")
        again = heard.until(is_lost)
        assert "no program has the session open" in str(again)
        assert not card.stop()
        assert not card.go(1)
        with CardServer(session, asked=print) as back:
            back.publish(STANDING_BY)
            heard.until(is_state(STANDING_BY))
            assert card.stop()


def test_a_card_that_lost_the_desk_does_not_drive_by_itself_afterwards(session: Path) -> None:
    heard: Heard[CardNews] = Heard()
    server = CardServer(session, asked=print)
    server.publish(STANDING_BY)
    with CardClient(session, retry_s=SOON_S) as card:
        card.start(heard.put)
        card.here()
        heard.until(lambda news: isinstance(news, Role) and news.drives)
        server.close()
        heard.until(is_lost)
        with CardServer(session, asked=print) as back:
            back.publish(STANDING_BY)
            heard.until(is_state(STANDING_BY))
            card.here()
            role = heard.until(lambda news: isinstance(news, Role) and news.card == 1)
            assert role == Role(card=1, cards=1, driver=None)
            assert card.drive()
            heard.until(lambda news: isinstance(news, Role) and news.drives)


def test_a_desk_that_falls_silent_is_told_and_believed_again_when_it_speaks(session: Path) -> None:
    heard: Heard[CardNews] = Heard()
    shown = encode(Shown(number=1, state=ROLLING))
    with (
        Other(session, HELLO, shown) as desk,
        CardClient(session, silence_s=SOON_S) as card,
        desk.cards.next() as line,
    ):
        card.start(heard.put)
        heard.until(is_state(ROLLING))
        assert heard.until(is_lost) == Lost(reason="the program at the desk does not answer")
        assert card.stop()  # it may only be slow: a stop is sent all the same
        assert line.recv(100) == encode(Stop())
        line.sendall(shown)
        heard.until(is_state(ROLLING))


def test_a_desk_that_talks_nonsense_is_left(session: Path) -> None:
    heard: Heard[CardNews] = Heard()
    with (
        Other(session, HELLO) as desk,
        CardClient(session) as card,
        desk.cards.next() as line,
    ):
        card.start(heard.put)
        line.sendall(b"nonsense\n")
        heard.until(is_lost)
        assert line.recv(100) == b""


def test_another_version_is_one_sentence(session: Path) -> None:
    with (
        Other(session, encode(Hello(version=1))),
        pytest.raises(UseError, match="is another version of secondpass"),
    ):
        CardClient(session)


def test_a_desk_that_never_answers_is_one_sentence(session: Path) -> None:
    with Other(session):
        with pytest.raises(DeviceError, match="does not answer; look at the desk"):
            CardClient(session, silence_s=SOON_S)
        with pytest.raises(DeviceError, match="does not answer; look at the desk"):
            read_card(session, within_s=SOON_S)


def test_a_desk_without_a_state_yet_is_not_waited_for_long(session: Path) -> None:
    with CardServer(session, asked=print), pytest.raises(DeviceError, match="does not answer"):
        read_card(session, within_s=SOON_S)


def test_the_state_can_be_read_once(session: Path) -> None:
    with CardServer(session, asked=print) as server:
        server.publish(ROLLING)
        assert read_card(session) == ROLLING


def test_no_program_is_one_sentence_with_the_way_out(session: Path) -> None:
    with pytest.raises(UseError, match=r"no program has .* open; open it with `secondpass open "):
        CardClient(session)


def test_a_socket_nobody_answers_is_no_program(session: Path) -> None:
    peer.make_private(layout.card_socket(session).parent)
    peer.listen(layout.card_socket(session)).close()
    with pytest.raises(UseError, match="no program has the session open"):
        read_card(session)


@pytest.mark.parametrize(
    ("name", "why"), [("gone", "no such folder"), ("", "is no session"), ("file", "is a file")]
)
def test_what_is_no_session_is_said(tmp_path: Path, name: str, why: str) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(UseError, match=why):
        read_card(tmp_path / name)


def test_a_desk_of_another_user_is_refused(session: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with CardServer(session, asked=print):
        monkeypatch.setattr(platform, "peer_user", lambda _: 4711)
        with pytest.raises(UseError, match="another user has the session open"):
            read_card(session)


def test_a_card_that_never_listened_can_be_put_away(session: Path) -> None:
    with CardServer(session, asked=print):
        CardClient(session).close()
