"""Runs in the simulated room: cards in their turn, what holds a run, what a crash leaves of it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from needs import needs_samples
from sitting import ECHO as ECHO_FOR_A_MINUTE
from sitting import Sitting, begins, make_session, only, wired

from audio.jobs import news
from audio.jobs.news import News
from audio.jobs.orders import (
    Asked,
    BeginRun,
    ChooseWiring,
    CloseStream,
    EndRun,
    HoldRun,
    OpenStream,
    RunLine,
    SkipLine,
)
from audio.session import journal
from audio.session.folder import open_session
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import BARE, RunNow
from audio.vocab.plan_file import key_of

pytestmark = needs_samples()

FUZZ, ECHO = (key_of("riff", chain, None, 1) for chain in ("fuzz", "echo"))
PLAN = "passes: [{part: riff, chains: [fuzz, echo]}]\n"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_session(tmp_path_factory.mktemp("made"), riff=1.0)


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    folder = Path(shutil.copytree(made, tmp_path / "evening"))
    (folder / "plan.yaml").write_text(PLAN)
    return folder


@pytest.fixture
def desk(folder: Path) -> Iterator[Sitting]:
    with Sitting(folder) as sitting:
        sitting.until(news.Ready)
        yield sitting


def stands(told: list[News]) -> RunNow:
    """Return where the run stands after what was told."""
    return next(one for one in reversed(told) if isinstance(one, news.RunStands)).run


def rolls(told: list[News]) -> list[str]:
    return [one.roll.what for one in told if isinstance(one, news.RollBegins)]


def after(desk: Sitting, *orders: Asked) -> RunNow:
    """Obey orders; return where the run stands then."""
    told: list[News] = []
    for order in orders:
        told += desk.obeyed(order)
    return stands(told)


def faulty(desk: Sitting, *faults: dict[str, object]) -> None:
    """Let the room have faults; the bare path is left out."""
    desk.obeyed(ChooseWiring(wiring=wired(chains=CHAINS, faults=faults), name="faulty"))
    desk.obeyed(OpenStream())


CHAINS = {"fuzz": (), "echo": ()}
DEAD = {"kind": "dead cable", "chain": "fuzz"}


def test_a_run_shows_a_card_waits_plays_and_goes_on_to_its_end(desk: Sitting) -> None:
    desk.opened()
    told = desk.obeyed(BeginRun())
    assert rolls(told) == [], "a run that begins only shows its first card"
    assert (stands(told).state, stands(told).at) == ("waiting", BARE)
    told = desk.obeyed(RunLine(key=BARE))
    assert set(rolls(told)) == {"click", "listen"}, "the bare path is measured by the click alone"
    assert only(told, news.StepDone).record.chain == BARE_PATH
    assert desk.runner._known.bare is not None
    assert (stands(told).state, stands(told).at) == ("waiting", FUZZ)
    seconds = [100.0]
    desk.runner._runs.running._clock = lambda: seconds[0]
    desk.obeyed(HoldRun())
    desk.obeyed(BeginRun())
    seconds[0] = 160.0  # somebody replugs
    desk.when(begins("pass"), lambda: seconds.__setitem__(0, 190.0))
    told = desk.obeyed(RunLine(key=FUZZ))
    moves = [(one.run.state, one.run.at) for one in told if isinstance(one, news.RunStands)]
    assert moves == [("playing", FUZZ), ("waiting", ECHO)]
    assert only(told, news.PassDone).variant.chain_adds_frames is not None
    last = after(desk, RunLine(key=ECHO))
    assert (last.state, last.at) == ("ended", "")
    entries = journal.told(desk.folder, ("run pass",))
    assert [(one.facts["key"], one.facts["number"]) for one in entries] == [(FUZZ, 1), (ECHO, 2)]
    assert [one.facts["took_s"] for one in entries] == [90.0, 0.0], "from the card to the verdict"
    assert "nothing is left to do" in only(desk.obeyed(BeginRun()), news.Trouble).text


def test_a_go_for_another_card_than_the_one_shown_is_refused(desk: Sitting) -> None:
    desk.opened()
    assert "begin one first" in only(desk.obeyed(RunLine(key=FUZZ)), news.Trouble).text
    desk.obeyed(BeginRun())
    told = desk.obeyed(RunLine(key=FUZZ))
    assert "stands at another line" in only(told, news.Trouble).text
    assert rolls(told) == []
    assert after(desk, SkipLine(key=BARE)).at == FUZZ, "the bare path may be left out"
    assert after(desk, SkipLine(key=FUZZ)).at == ECHO
    assert after(desk, HoldRun()).reason == "held by hand"
    told = desk.obeyed(RunLine(key=ECHO))
    assert "the run is held (held by hand)" in only(told, news.Trouble).text
    assert rolls(told) == []
    assert after(desk, EndRun()).state == "ended"
    assert not desk.take(1).exists()


@pytest.mark.slow
def test_a_redo_holds_the_run_with_what_it_was_and_what_to_do(desk: Sitting) -> None:
    faulty(desk, DEAD)
    desk.obeyed(BeginRun())
    run = after(desk, SkipLine(key=BARE), RunLine(key=FUZZ))
    assert (run.state, run.at) == ("held", FUZZ)
    assert run.reason.startswith("riff 001 through fuzz: ")
    assert desk.variant(1)["findings"][0]["text"] in run.reason
    assert after(desk, BeginRun()).at == FUZZ, "going on shows the same card"
    run = after(desk, SkipLine(key=FUZZ), RunLine(key=ECHO))
    assert run.state == "ended"


@pytest.mark.slow
def test_a_look_goes_on_and_is_collected(desk: Sitting) -> None:
    rings = wired(chains={"fuzz": ECHO_FOR_A_MINUTE, "echo": ()}, tail_s=2.5)
    desk.obeyed(ChooseWiring(wiring=rings, name="short tail"))
    desk.obeyed(OpenStream())
    desk.obeyed(BeginRun())
    run = after(desk, SkipLine(key=BARE), RunLine(key=FUZZ))
    assert (run.state, run.at) == ("waiting", ECHO)
    assert [one.split(": ")[0] for one in run.looks] == ["riff 001 through fuzz"]
    assert after(desk, RunLine(key=ECHO)).looks == run.looks, "told when the run is over, too"


@pytest.mark.slow
def test_a_redo_is_repeated_once_if_asked_and_waits_for_its_go(desk: Sitting) -> None:
    faulty(desk, DEAD)
    desk.obeyed(BeginRun(repeat_redo=True))
    desk.obeyed(SkipLine(key=BARE))
    desk.runner.ask(RunLine(key=FUZZ))
    desk.runner.ask(RunLine(key=FUZZ))  # a key that was pressed twice
    first, second = desk.to_idle(), desk.to_idle()
    assert "pass" in rolls(first)
    assert rolls(second) == [], "nobody saw the card of the repeat"
    run = stands(first)
    assert (run.state, run.at, run.repeated) == ("waiting", FUZZ, True)
    run = after(desk, RunLine(key=FUZZ))
    assert (run.state, run.reason.split(":")[0]) == ("held", "riff 002 through fuzz")


@pytest.mark.slow
def test_a_stop_keeps_what_was_recorded_and_holds_the_run(tmp_path: Path) -> None:
    folder = make_session(tmp_path, riff=60.0)
    (folder / "plan.yaml").write_text(PLAN)
    with Sitting(folder) as desk:
        desk.until(news.Ready)
        desk.opened()
        desk.obeyed(BeginRun())
        desk.obeyed(SkipLine(key=BARE))
        desk.when(begins("pass"), desk.runner.stop)
        told = desk.obeyed(RunLine(key=FUZZ))
        assert (stands(told).state, stands(told).reason) == ("held", "stopped by hand")
        assert only(told, news.PassDone).variant.state == "stopped"
        assert stands(told).at == FUZZ, "it answers no line"
        desk.obeyed(BeginRun())
        desk.when(begins("click"), desk.runner.stop)
        told = desk.obeyed(RunLine(key=FUZZ))
        assert (stands(told).state, stands(told).reason) == ("held", "stopped by hand")


@pytest.mark.slow
def test_a_stream_that_is_lost_holds_the_run(desk: Sitting) -> None:
    faulty(desk, {"kind": "disappear", "after_sound_s": 0.3, "chain": "fuzz"})
    desk.obeyed(BeginRun())
    desk.obeyed(SkipLine(key=BARE))
    told = desk.obeyed(RunLine(key=FUZZ))
    reason = only(told, news.StreamClosed).reason
    assert (stands(told).state, stands(told).reason) == ("held", reason)
    assert after(desk, BeginRun()).state == "waiting"
    told = desk.obeyed(RunLine(key=FUZZ))
    assert "the stream is not open" in only(told, news.Trouble).text
    assert not any(isinstance(one, news.RunStands) for one in told), "it waits as before"


@pytest.mark.slow
def test_a_run_goes_on_where_it_was_in_a_session_that_was_opened_again(
    folder: Path,
) -> None:
    with Sitting(folder) as desk:
        desk.until(news.Ready)
        desk.opened()
        desk.obeyed(BeginRun(repeat_redo=True))
        desk.obeyed(SkipLine(key=BARE))
        assert after(desk, RunLine(key=FUZZ)).at == ECHO
    with Sitting(folder) as desk:
        desk.until(news.Ready)
        run = next(one.run for one in desk.heard if isinstance(one, news.Snapshot))
        assert (run.state, run.number) == ("held", 1)
        assert run.reason == "the program was closed between two passes; nothing has sounded since"
        desk.opened()
        assert rolls(desk.heard) == [], "nothing sounds before somebody goes on"
        run = after(desk, BeginRun())
        assert (run.state, run.at) == ("waiting", BARE), "a new stream has not measured it"
        told = desk.obeyed(CloseStream()) + desk.obeyed(OpenStream())
        assert rolls(told) == []
        desk.obeyed(RunLine(key=BARE))
        assert after(desk, RunLine(key=ECHO)).state == "ended"
    assert open_session(folder).folder == folder
    numbers = [one.facts["number"] for one in journal.told(folder, ("claimed",))]
    assert numbers == [1, 2]
