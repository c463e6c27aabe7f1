"""What a step is told: every word has its place on screen and command line, and wrong ones are refused."""

from __future__ import annotations

import argparse
from typing import Any

import pytest

from audio.jobs.setting.wanted import OPTIONS, YES, Option, asked_for, shown_options
from audio.vocab.errors import UseError
from audio.vocab.session_file import Part, Recorded, Revision
from audio.vocab.setup import (
    AskDelay,
    Asked,
    AskKeepSound,
    AskReturnGain,
    AskSendLevel,
    AskSound,
)
from audio.vocab.step_names import STEPS, StepName
from tui.cli import build_parser

PART = Part(name="hook", revisions=(Revision(file="di/hook.wav", file_sha256="ab" * 32),))
NOTED = Part(
    name="hook", revisions=PART.revisions, recorded=Recorded(input=3, box="passive", pad_db=-20.0)
)


def asked(
    step: StepName, part: Part | None = NOTED, *, attended: bool = False, **words: str
) -> Asked:
    named = {name.replace("_", "-"): word for name, word in words.items()}
    return asked_for(step, named, part=part, attended=attended)


def test_every_option_is_one_of_the_command_lines_and_the_other_way_round() -> None:
    parser = build_parser()
    verbs: Any = next(a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    group = next(g for g in verbs.choices["set"]._action_groups if "told" in (g.title or ""))
    flags = {flag.removeprefix("--") for a in group._group_actions for flag in a.option_strings}
    names = [one.name for options in OPTIONS.values() for one in options]
    assert sorted(names) == sorted(flags)


def test_every_step_can_be_asked_for_with_the_least_that_it_needs() -> None:
    for step in STEPS:
        assert asked(step, sound="lead") is not None


def test_attended_steps_go_on_until_somebody_says_enough_and_others_end_by_themselves() -> None:
    for step in ("send level", "return gain", "sound"):
        for attended in (True, False):
            one: Any = asked(step, attended=attended, sound="lead")
            assert (one.cycles is None) == attended


def test_the_input_that_was_noted_with_the_part_is_taken_unless_another_is_said() -> None:
    assert isinstance(one := asked("send level"), AskSendLevel)
    assert one.di_input == 3
    assert isinstance(other := asked("send level", di_input="5"), AskSendLevel)
    assert other.di_input == 5
    with pytest.raises(UseError, match=r"recorded: \{input: N\} at the part"):
        asked("send level", PART)


def test_a_voltmeter_needs_no_input() -> None:
    one = asked("send level", PART, method="voltmeter", volts="0,35", full_scale="−2")
    assert isinstance(one, AskSendLevel)
    assert (one.di_input, one.volts, one.full_scale_dbu) == (None, 0.35, -2.0)


def test_words_become_what_they_stand_for() -> None:
    gain = asked("return gain", low="-20", high="-10.5", dba="98")
    assert isinstance(gain, AskReturnGain)
    assert (gain.low_dbfs, gain.high_dbfs, gain.dba) == (-20.0, -10.5, 98.0)
    assert asked("delay", patched="8") == AskDelay(patched_input=8)
    kept = asked("sound", do="keep", sound="lead", notes="gain at two", **{"from": "1.5"})
    assert kept == AskKeepSound(name="lead", part="hook", from_s=1.5, notes="gain at two")
    assert asked("sound", sound=" hook 003 ") == AskSound(name="hook 003")


@pytest.mark.parametrize(
    ("step", "words", "said"),
    [
        ("send level", {"method": "ear"}, "method: 'ear'"),
        ("send level", {"di_input": "0"}, "inputs count from 1"),
        ("send level", {"unmoved": "perhaps"}, "write yes or no"),
        ("send level", {"method": "voltmeter", "volts": "much"}, "such as 0.35"),
        ("return gain", {"low": "-8", "high": "-18"}, "low under high"),
        ("return gain", {"high": "3"}, "between -60 and 0"),
        ("return gain", {"dba": "nan"}, "no number"),
        ("delay", {"patched": "³"}, "no input"),
        ("sound", {}, "say its name"),
    ],
)
def test_a_word_that_cannot_be_is_refused_with_the_way_out(
    step: StepName, words: dict[str, str], said: str
) -> None:
    with pytest.raises(UseError, match=said):
        asked(step, **words)


@pytest.mark.parametrize("step", ["send level", "return gain"])
def test_a_step_of_a_part_without_one_says_how_to_add_it(step: StepName) -> None:
    with pytest.raises(UseError, match="secondpass add"):
        asked(step, None)


def test_options_that_mean_nothing_now_are_not_shown() -> None:
    def names(step: StepName, **said: str) -> list[str]:
        def word(option: Option) -> str:
            return said.get(option.name, option.first)

        return [one.name for one in shown_options(step, word)]

    assert "volts" not in names("send level")
    assert "di-input" not in names("send level", method="voltmeter")
    assert names("sound") == ["sound", "do"]
    assert names("sound", do="keep") == ["sound", "do", "from", "notes"]
    assert YES in OPTIONS["send level"][-1].choices
