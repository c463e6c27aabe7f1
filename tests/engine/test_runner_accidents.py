"""The session at the desk when something dies, lets go, breaks or fills up: said, kept, and it goes on."""

from __future__ import annotations

import gc
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import soundfile
from accidents import engine_under, fill, is_gone, small_disk, wait_for
from needs import needs_samples
from sitting import (
    PROGRAM,
    RATE,
    Sitting,
    begins,
    kinds,
    make_session,
    only,
    recorded,
    threads,
    wired,
)

import audio.jobs.runner
from audio.jobs import news
from audio.jobs.news import News
from audio.jobs.orders import (
    LookAtDi,
    LookForDevices,
    OpenStream,
    Outline,
    RunPass,
    RunStep,
    StopPlaying,
)
from audio.jobs.runner import Runner
from audio.vocab.errors import UseError
from audio.vocab.setup import AskDelay
from audio.vocab.wiring_text import wiring_text

pytestmark = needs_samples()

PASS = RunPass(part="riff", chain="plain")
CLICK = RunStep(asked=AskDelay(), chain="plain")
SHORT_PASS = RunPass(part="hook", chain="plain")
MINUTE_S = 60.0
"""The free room plays this in about three seconds."""


@pytest.fixture(scope="module")
def minute(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_session(tmp_path_factory.mktemp("minute"), riff=MINUTE_S, hook=1.0)


@pytest.fixture
def folder(minute: Path, tmp_path: Path) -> Path:
    """A session with a riff of a minute and a hook of a second."""
    where = tmp_path / "evening"
    shutil.copytree(minute, where)
    return where


@pytest.fixture
def desk(folder: Path) -> Iterator[Sitting]:
    with Sitting(folder) as sitting:
        sitting.until(news.Ready)
        yield sitting


def is_whole(desk: Sitting, number: int, *, at_least_s: float, part: str = "riff") -> bool:
    """Check what is recorded against what the variant says of it, by another reader of sound files."""
    (file,) = desk.variant(number, part)["files"]
    frames = soundfile.info(desk.folder / file["path"]).frames
    return bool(frames == file["frames"] >= at_least_s * RATE)


# ------------------------------------------------------------------ what dies


@pytest.mark.slow
def test_an_engine_killed_in_standby_is_said_and_the_next_opening_works(desk: Sitting) -> None:
    desk.opened()
    os.kill(desk.engine_pid, signal.SIGKILL)
    assert "engine" in desk.until(news.StreamClosed).reason
    assert desk.runner.status() is None
    desk.opened()
    assert kinds(desk.obeyed(CLICK))[-2:] == [news.StepDone, news.Idle]


def test_an_engine_killed_in_the_clicks_costs_the_number_only(desk: Sitting) -> None:
    desk.opened()
    desk.when(begins("click", nth=2), lambda: os.kill(desk.engine_pid, signal.SIGKILL))
    told = desk.obeyed(PASS)
    assert only(told, news.StreamClosed).reason
    assert news.PassDone not in kinds(told)
    assert desk.events("empty") == [1]
    assert desk.is_settled()


@pytest.mark.slow
def test_an_engine_killed_in_the_di_leaves_a_recovered_pass_and_the_next_one_works(
    desk: Sitting,
) -> None:
    desk.opened()
    desk.runner.ask(PASS)
    desk.wait_recorded()
    os.kill(desk.engine_pid, signal.SIGKILL)
    told = desk.to_idle()
    closed, done = only(told, news.StreamClosed), only(told, news.PassDone)
    assert (done.variant.state, done.fault) == ("recovered", closed.reason)
    assert closed.reason
    assert only(told, news.Snapshot).variants[0].state == "recovered"
    assert is_whole(desk, 1, at_least_s=1.0)
    assert "open it at the send first" in only(desk.obeyed(PASS), news.Trouble).text
    assert desk.opened().passed(part="hook").variant.state == "kept"


@pytest.mark.slow
def test_what_was_ordered_before_an_accident_does_not_sound_after_it(desk: Sitting) -> None:
    desk.opened()
    desk.runner.ask(PASS)
    desk.wait_recorded()
    for later in (OpenStream(), CLICK, SHORT_PASS):
        desk.runner.ask(later)
    os.kill(desk.engine_pid, signal.SIGKILL)
    assert news.PassDone in kinds(desk.to_idle())
    told = [kind for _ in range(3) for kind in kinds(desk.to_idle())]
    assert told.count(news.Stopped) == 2, "the click and the pass wait for somebody to ask anew"
    assert news.RollBegins not in told
    assert not desk.take(1, "hook").exists()


@pytest.mark.slow
def test_a_pass_ordered_behind_one_that_met_a_dead_amp_does_not_sound(folder: Path) -> None:
    dead = wired(faults=({"kind": "standby", "from_s": 12.0},))
    (folder / "wiring.yaml").write_text(wiring_text(dead))
    with Sitting(folder) as desk:
        desk.until(news.Ready)
        desk.opened()
        desk.runner.ask(PASS)
        desk.runner.ask(SHORT_PASS)
        done = only(desk.to_idle(), news.PassDone)
        assert "dead-amp" in [one.code for one in done.variant.findings]
        assert not done.interrupted
        assert kinds(desk.to_idle()) == [news.Stopped, news.Idle]
        assert not desk.take(1, "hook").exists()


@pytest.mark.parametrize(
    "moment",
    [
        pytest.param(begins("pass"), id="as the DI begins"),
        pytest.param(begins("click", nth=3), id="in the closing click", marks=pytest.mark.slow),
    ],
)
def test_a_worker_that_dies_in_mid_pass_does_not_cost_the_pass(
    desk: Sitting, moment: Callable[[News], bool]
) -> None:
    desk.opened()
    desk.when(moment, lambda: _kill_worker(desk.runner._deck))
    done = only(desk.obeyed(SHORT_PASS), news.PassDone)
    assert (done.variant.state, done.fault) == ("kept", None)
    assert is_whole(desk, 1, at_least_s=1.0, part="hook")
    assert done.variant.files[0].peak_dbfs is not None


@pytest.mark.slow
def test_a_worker_that_dies_in_the_clicks_costs_the_stream_and_the_number(desk: Sitting) -> None:
    desk.opened()
    desk.when(begins("click"), lambda: _kill_worker(desk.runner._deck))
    told = desk.obeyed(SHORT_PASS)
    assert "worker" in only(told, news.StreamClosed).reason
    assert desk.events("empty") == [1]
    assert desk.opened().passed(part="hook").variant.number == 2


def test_a_question_after_its_worker_died_is_answered_by_a_new_one(desk: Sitting) -> None:
    outline = Outline(path="di/riff.r1.wav")
    first = desk.looked(outline, news.Outlined)
    _kill_worker(desk.runner._looking)
    assert desk.looked(outline, news.Outlined) == first
    assert desk.looked(LookAtDi(part="riff"), news.DiRead).problem == ""


def _kill_worker(owner: object) -> None:
    process = _worker_of(owner)
    process.kill()
    process.wait()


def _worker_of(owner: object) -> subprocess.Popen[bytes]:
    worker = getattr(owner, "worker", None) or owner._worker  # type: ignore[attr-defined]
    process: subprocess.Popen[bytes] = worker._child._process
    return process


# ------------------------------------------------------------------ what nobody thought of


def _fails() -> None:
    raise RuntimeError("nobody thought of this")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("moment", "state"),
    [
        pytest.param(begins("click"), None, id="in the clicks", marks=pytest.mark.slow),
        pytest.param(begins("pass"), None, id="before the DI", marks=pytest.mark.slow),
        pytest.param(begins("click", nth=3), "kept", id="after the DI"),
    ],
)
def test_a_mistake_in_mid_pass_is_news_and_the_pass_is_judged(
    desk: Sitting, moment: Callable[[News], bool], state: str | None
) -> None:
    desk.opened()
    desk.when(moment, _fails)
    told = desk.obeyed(SHORT_PASS)
    assert "RuntimeError: nobody thought of this" in only(told, news.StreamClosed).reason
    assert [one.variant.state for one in told if isinstance(one, news.PassDone)] == (
        [state] if state else []
    )
    assert desk.is_settled()
    desk.opened()


@pytest.mark.parametrize("kind", [news.Disk, news.Trouble, news.Idle])
def test_a_face_that_fails_at_hearing_something_does_not_end_the_thread(
    desk: Sitting, kind: type[News]
) -> None:
    desk.when(lambda one: isinstance(one, kind), _fails)
    if kind is not news.Disk:
        desk.runner.ask(PASS)  # there is no stream
    assert "nobody thought of this" in desk.until(news.StreamClosed).reason
    if kind is news.Trouble:
        desk.until(news.Idle)
    assert kinds(desk.obeyed(PASS)) == [news.Trouble, news.Idle]


def test_a_session_becomes_ready_whatever_fails_on_the_way(folder: Path) -> None:
    with Sitting(folder, started=False) as desk:
        desk.when(lambda one: isinstance(one, news.Snapshot), _fails)
        desk.start()
        desk.until(news.Ready)
        assert "nobody thought of this" in only(desk.heard, news.StreamClosed).reason


def test_a_mistake_beside_a_pass_is_said_and_the_next_question_is_answered(
    desk: Sitting, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as broken:
        broken.setattr("audio.jobs.looking.list_devices", _fails)
        assert "nobody thought of this" in desk.looked(LookForDevices(), news.Trouble).text
    desk.when(lambda one: isinstance(one, news.DiRead), _fails)  # a face that fails at hearing it
    desk.looked(LookAtDi(part="riff"), news.DiRead)
    assert "nobody thought of this" in desk.until(news.DiRead).problem
    assert desk.looked(LookAtDi(part="riff"), news.DiRead).problem == ""


# ------------------------------------------------------------------ a face that lets go


def _left_rolling(folder: Path) -> int:
    """Begin a pass and let go of it in the middle of its DI; return the engine's process id."""
    with Sitting(folder) as desk:
        desk.opened()
        engine = desk.engine_pid
        desk.runner.ask(PASS)
        desk.wait_recorded()
        desk.runner.leave_rolling()
    assert not is_gone(engine)
    return engine


@pytest.mark.slow
def test_a_pass_left_rolling_is_finished_by_the_engine_and_judged_unasked(folder: Path) -> None:
    engine = _left_rolling(folder)
    with Sitting(folder) as desk:
        first = desk.until(news.Snapshot)
        assert first.playing == (news.Playing(part="riff", number=1),)
        assert first.variants == ()
        told = desk.obeyed(OpenStream())
        assert "still plays through this setup" in only(told, news.Trouble).text
        assert news.StreamOpened not in kinds(told)
        later = desk.until(news.Snapshot, lambda one: not one.playing)
        (variant,) = later.variants
        assert (variant.number, variant.state) == (1, "kept")
        assert is_whole(desk, 1, at_least_s=MINUTE_S)
        wait_for(lambda: is_gone(engine), "the engine stayed")
        desk.opened()


@pytest.mark.slow
def test_a_pass_left_rolling_can_be_stopped_and_is_kept(folder: Path) -> None:
    engine = _left_rolling(folder)
    with Sitting(folder) as desk:
        assert desk.until(news.Snapshot).playing
        assert kinds(desk.obeyed(StopPlaying()))[-1] is news.Idle
        (variant,) = desk.until(news.Snapshot, lambda one: not one.playing).variants
        assert variant.state == "stopped"
        assert is_whole(desk, 1, at_least_s=2.0)
        assert desk.recorded(1) < MINUTE_S
        wait_for(lambda: is_gone(engine), "the engine stayed")


@pytest.mark.slow
def test_letting_go_while_a_verdict_is_made_waits_for_it(folder: Path) -> None:
    with Sitting(folder) as desk:
        desk.opened()
        desk.runner.ask(SHORT_PASS)
        desk.until(news.RollBegins, lambda one: one.roll.what == "pass")
        desk.until(news.RollEnds)
        desk.runner.leave_rolling()
        assert desk.variant(1, "hook")["state"] == "kept"
        wait_for(lambda: not desk.new_children(), "a process was left")


FACE = """
import sys
from pathlib import Path
from audio.jobs import news
from audio.jobs.orders import OpenStream, RunPass
from audio.jobs.runner import Runner
runner = Runner(Path(sys.argv[1]), program="secondpass open")
def tell(one):
    if isinstance(one, news.RollBegins) and one.roll.what == "pass":
        print("rolls", flush=True)
runner.start(tell)
runner.ask(OpenStream())
runner.ask(RunPass(part="riff", chain="plain"))
sys.stdin.read()
"""


@pytest.mark.slow
def test_a_pass_whose_face_was_killed_is_finished_and_judged_unasked(folder: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", FACE, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as face:
        assert face.stdout is not None
        assert face.stdout.readline() == b"rolls\n"
        wait_for(lambda: recorded(folder, 1) > 2.0, "the DI did not roll")
        engine = engine_under(face.pid)
        face.kill()
    with Sitting(folder) as desk:
        assert desk.until(news.Snapshot).playing == (news.Playing(part="riff", number=1),)
        (variant,) = desk.until(news.Snapshot, lambda one: not one.playing).variants
        assert variant.state == "kept"
        assert is_whole(desk, 1, at_least_s=MINUTE_S)
        assert desk.is_settled()
    wait_for(lambda: is_gone(engine), "the engine stayed")


# ------------------------------------------------------------------ one at a time, and gone afterwards


def test_a_second_one_at_the_same_session_is_told_who_has_it(desk: Sitting) -> None:
    with pytest.raises(UseError, match=rf"{PROGRAM} .*process {os.getpid()}") as refused:
        Runner(desk.folder, program="secondpass open")
    assert "close it there first" in str(refused.value)
    desk.runner.close()
    Runner(desk.folder, program="secondpass open").close()


def is_all_gone(desk: Sitting) -> bool:
    gc.collect()  # what was left open would complain now
    return desk.new_children() == set() and threads() == []


@pytest.mark.slow
def test_closing_in_mid_pass_keeps_it_and_leaves_nothing_behind(desk: Sitting) -> None:
    desk.opened()
    desk.runner.ask(PASS)
    desk.wait_recorded()
    desk.runner.close()
    assert is_all_gone(desk)
    assert desk.variant(1)["state"] == "stopped"
    assert is_whole(desk, 1, at_least_s=2.0)
    assert desk.is_settled()


def test_closing_while_the_stream_opens_leaves_nothing_behind(desk: Sitting) -> None:
    desk.runner.ask(OpenStream())
    desk.runner.ask(PASS)
    wait_for(lambda: bool(desk.new_children()), "nothing was opened")
    desk.runner.close()
    assert is_all_gone(desk)
    assert not desk.take(1).exists()


def test_a_worker_that_hangs_holds_up_no_stop(desk: Sitting) -> None:
    desk.opened()
    desk.when(begins("pass"), lambda: _worker_of(desk.runner._deck).send_signal(signal.SIGSTOP))
    desk.runner.ask(PASS)
    desk.wait_recorded()
    desk.runner.stop()
    desk.until(news.RollEnds, lambda _: desk.nothing_sounds())
    assert desk.recorded(1) < MINUTE_S
    _worker_of(desk.runner._deck).send_signal(signal.SIGCONT)
    assert desk.until(news.PassDone).variant.state == "stopped"


@pytest.mark.slow
def test_closing_while_the_worker_hangs_leaves_the_verdict_to_the_next_opening(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(audio.jobs.runner, "LET_FINISH_S", 0.1)
    with Sitting(folder) as desk:
        desk.opened()
        desk.when(begins("pass"), lambda: _worker_of(desk.runner._deck).send_signal(signal.SIGSTOP))
        desk.runner.ask(SHORT_PASS)
        desk.until(news.RollBegins, lambda one: one.roll.what == "pass")
        desk.until(news.RollEnds)
        desk.runner.close()
        assert is_all_gone(desk)
        assert not (desk.take(1, "hook") / "variant.json").exists()
    with Sitting(folder) as desk:
        (variant,) = desk.until(news.Snapshot).variants
        assert variant.state == "kept"
        assert is_whole(desk, 1, at_least_s=1.0, part="hook")


def test_closing_with_questions_unanswered_leaves_nothing_behind(desk: Sitting) -> None:
    for _ in range(5):
        desk.runner.look(Outline(path="di/riff.r1.wav"))
    desk.until(news.Outlined)
    desk.runner.close()
    assert is_all_gone(desk)


def test_closing_before_anything_began_leaves_nothing_behind(folder: Path) -> None:
    for _ in range(2):
        desk = Sitting(folder, started=False)
        desk.runner.ask(OpenStream())
        desk.runner.close()
        desk.runner.close()  # twice is once
        assert is_all_gone(desk)


# ------------------------------------------------------------------ a folder that goes away


@pytest.mark.slow
def test_a_session_moved_in_mid_pass_is_said_and_judged_where_it_lies_now(
    folder: Path, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "elsewhere"
    with Sitting(folder) as desk:
        desk.opened()
        desk.runner.ask(PASS)
        desk.wait_recorded()
        folder.rename(elsewhere)
        closed = desk.until(news.StreamClosed)
        assert f"{folder} is not there any more" in closed.reason
    with Sitting(elsewhere) as desk:
        (variant,) = desk.until(news.Snapshot).variants
        assert (variant.number, variant.state) == (1, "recovered")
        assert is_whole(desk, 1, at_least_s=MINUTE_S)


# ------------------------------------------------------------------ a disk that fills up


@pytest.mark.slow
def test_a_disk_that_fills_up_in_a_pass_is_said_and_what_fitted_is_judged(
    tmp_path: Path,
) -> None:
    with (
        small_disk(tmp_path / "disk") as disk,
        # By the clock: at free pace the pass may be over before the disk is full.
        Sitting(make_session(disk, pace="clock", riff=MINUTE_S, hook=1.0)) as desk,
    ):
        desk.opened()
        desk.runner.ask(PASS)
        desk.wait_recorded()
        ballast = fill(disk)
        told = desk.to_idle()
        ballast.unlink()
        if news.PassDone not in kinds(told):  # there was no room for the verdict
            assert "make room on the disk" in only(told, news.Trouble).text
            desk.until(news.PassDone)
        (variant,) = [one.variant for one in desk.heard if isinstance(one, news.PassDone)]
        assert (variant.verdict, variant.state) == ("redo", "stopped"), "the record had its room"
        assert "disk-full" in [one.code for one in variant.findings]
        assert is_whole(desk, 1, at_least_s=1.0)
        assert desk.is_settled()
        assert desk.passed(part="hook").variant.state == "kept"


# ------------------------------------------------------------------ a disk that is too slow

STUCK_DISK = """
import os, time
from audio.files import platform
write = platform.write
def slow(fd, data):
    while os.path.exists(os.environ["STUCK_DISK"]):
        time.sleep(0.01)
    return write(fd, data)
platform.write = slow
"""
"""Loaded by every child as it starts: its disk stands still while a certain file is there."""


@pytest.mark.slow
def test_a_disk_that_stands_still_in_a_pass_is_said_at_once_and_the_pass_is_kept_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "sitecustomize.py").write_text(STUCK_DISK)
    stuck = tmp_path / "stuck"
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setenv("STUCK_DISK", str(stuck))
    with Sitting(make_session(tmp_path, pace="clock", riff=20.0)) as desk:
        desk.opened()
        desk.runner.ask(PASS)
        desk.wait_recorded(seconds=1.0)
        stuck.touch()
        said = desk.until(news.Said, lambda one: "disk" in one.text)
        assert "nothing is lost" in said.text
        stuck.unlink()
        done = only(desk.to_idle(), news.PassDone)
        assert (done.variant.state, done.variant.dropouts, done.fault) == ("stopped", (), None)
        (finding,) = [one for one in done.variant.findings if one.code == "disk-slow"]
        assert finding.weight == "redo"
        assert "Every frame before that is in the files" in finding.advice
        # What waited in the ring is in the file: half of it, and what was written before.
        assert is_whole(desk, 1, at_least_s=1.0 + 2.5)
