"""``secondpass run``: the cards it shows, what it asks, how it exits."""

from __future__ import annotations

import io
import json
import sys
import threading
from pathlib import Path

import pytest
from installed import copy_of, make_bench, run
from needs import needs_samples

from audio.jobs.deck import StoppedError
from audio.vocab.chain import AmpAsSet, Chain, Change, Pedal
from audio.vocab.plan import BARE, PlanLine, PlanNow, RunNow, Wanted
from tui.present.run_cards import PHANTOM, STANDBY, card, fitted, needs_hands, summary
from tui.verbs.set_prompt import LEAVE, Prompt

pytestmark = needs_samples()

CHAIN = Chain(
    name="crunch",
    pedals=(Pedal(name="drive", knobs={"gain": "2:30"}), Pedal(name="delay")),
    amps=(AmpAsSet(name="twin", knobs={"volume": "6"}),),
)
CHAINS = {"crunch": CHAIN}
RUN = RunNow(state="waiting", number=1, at="riff through crunch")


def plan(*touch: Change, chain: str = "crunch") -> PlanNow:
    wanted = Wanted(key="riff through crunch", part="riff", chain=chain)
    return PlanNow(lines=(PlanLine(wanted=wanted, song="low water", touch=touch),))


def change(kind: str, name: str, *, at: str = "pedal", what: str = "", was: str = "") -> Change:
    return Change(kind=kind, at=at, name=name, what=what, was=was, now="2:30")  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    bench = make_bench(tmp_path_factory.mktemp("made") / "bench")
    (bench / "tonight" / "plan.yaml").write_text("passes: [{part: riff, chain: fuzz}]\n")
    return bench


def test_a_card_has_the_chain_in_order_and_a_word_for_what_has_to_be_touched() -> None:
    touch = (
        change("out", "fuzz"),
        change("moved", "delay", what="behind drive"),
        change("turn", "drive", what="gain", was="1:00"),
    )
    assert card(RUN, plan(*touch), CHAINS) == [
        "card 1 of 1: riff through crunch of low water",
        "  turn  drive          gain 2:30  (gain was 1:00)",
        "  moved delay            (behind drive)",
        "        twin           volume 6",
        "  out   fuzz",
        STANDBY,
    ]


def test_cautions_stand_where_cables_are_pulled_and_only_there() -> None:
    assert card(RUN, plan(change("turn", "drive", what="gain")), CHAINS)[-1] != STANDBY
    assert card(RUN, plan(change("new", "close", at="mic")), CHAINS)[-1] == PHANTOM
    assert STANDBY in card(RunNow(state="waiting", at=BARE), plan(), CHAINS)
    assert card(RUN, plan(chain="a secret"), CHAINS)[1:] == [
        "  no file tells how a secret is set: set it as you know it",
        STANDBY,
    ]


def test_a_line_without_hands_is_one_whose_chain_is_set_already() -> None:
    (line,) = plan().lines
    assert not needs_hands(line, CHAINS, plugged="crunch")
    assert not needs_hands(line, {}, plugged="crunch")
    assert needs_hands(line, {}, plugged="fuzz"), "nobody can tell without a file"
    (line,) = plan(change("new", "drive")).lines
    assert needs_hands(line, CHAINS, plugged="crunch")


def test_a_run_that_is_left_says_why_and_what_is_to_be_looked_at() -> None:
    run = RunNow(state="held", number=2, reason="no", looks=("riff 001 through crunch: hum",))
    assert summary(run, plan()) == [
        "run 2 is held: no",
        "0 of 1 lines are done",
        "to be looked at:",
        "  riff 001 through crunch: hum",
    ]
    assert all(len(line) <= 30 for line in fitted(summary(run, plan()), 30))


@pytest.mark.slow
def test_without_a_terminal_the_simulated_room_runs_to_its_end(bench: Path, tmp_path: Path) -> None:
    folder = copy_of(bench, tmp_path)
    ran = run("run", "tonight", "--json", folder=folder)
    assert ran.code == 0, ran.err
    said = json.loads(ran.out)
    assert (said["run"]["state"], said["run"]["number"]) == ("ended", 1)
    assert [line["state"] for line in said["plan"]["lines"]] == ["done"]
    assert "card 1 of 1: riff through fuzz" in ran.err
    again = run("run", "tonight", folder=folder)
    assert (again.code, again.out) == (2, "")
    assert again.lines == [
        "secondpass: nothing is left to do in the plan; add passes to it, or have a line played again"
    ]


def test_a_real_device_is_never_played_without_a_terminal(bench: Path, tmp_path: Path) -> None:
    folder = copy_of(bench, tmp_path)
    wiring = folder / "tonight" / "wiring.yaml"
    real = "kind: portaudio\n  host: ALSA\n  name: box"
    text = wiring.read_text().replace("kind: simulated", real).replace("  pace: free\n", "")
    wiring.write_text("".join(line for line in text.splitlines(True) if not _of_the_room(line)))
    ran = run("run", "tonight", folder=folder)
    assert ran.code == 2
    assert "without a terminal nobody can press go beside a real amp" in ran.err
    assert "run begun" not in (folder / "tonight" / "journal.jsonl").read_text()


def _of_the_room(line: str) -> bool:
    return line.startswith(("  inputs:", "  outputs:", "  microphones:"))


def test_a_redo_ends_an_unattended_run_with_its_reason(bench: Path, tmp_path: Path) -> None:
    folder = copy_of(bench, tmp_path)
    wiring = folder / "tonight" / "wiring.yaml"
    dead = "  pace: free\n  faults: [{kind: dead cable, input: 2}]\n"
    wiring.write_text(wiring.read_text().replace("  pace: free\n", dead))
    ran = run("run", "tonight", folder=folder)
    assert ran.code == 1
    assert "run 1 is held: " in ran.out


# ------------------------------------------------------------------ what is typed


def prompt(monkeypatch: pytest.MonkeyPatch, typed: str) -> tuple[Prompt, threading.Event]:
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    stop = threading.Event()
    return Prompt(stop), stop


def test_what_was_typed_before_a_card_is_shown_answers_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one, _ = prompt(monkeypatch, "\n\n\n")
    assert one.ask("first") == ""
    while one.pressed(0.01) is False:  # until everything was read
        pass
    one.forget()
    assert one.ask("second") == LEAVE, "that nobody is there any more is not forgotten"


def test_a_countdown_hears_a_key_and_ctrl_c(monkeypatch: pytest.MonkeyPatch) -> None:
    one, stop = prompt(monkeypatch, "\n")
    assert one.pressed(5.0)
    one.forget()
    assert one.pressed(5.0), "nobody is there: nothing may be played"
    quiet, _ = prompt(monkeypatch, "")
    quiet._lines.get(timeout=5.0)
    assert not quiet.pressed(0.01)
    quiet._stop.set()
    with pytest.raises(StoppedError):
        quiet.pressed(0.01)
    assert not stop.is_set()
