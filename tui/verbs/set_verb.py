"""``secondpass set``: the steps before a pass, one by one or those that were named."""

from __future__ import annotations

import argparse
import sys
import threading

import msgspec

from audio.jobs.deck import StoppedError
from audio.jobs.setting.alone import RunStep, as_it_stands, part_of, setting_up, standing
from audio.jobs.setting.wanted import OPTIONS, asked_for
from audio.vocab.errors import UseError
from audio.vocab.setup import Asked, SetupRecord
from audio.vocab.step_names import STEPS, StepName
from tui.cli import DONE, FAILED_CHECK, INTERRUPTED
from tui.present.json import show_json
from tui.present.plain import Plain
from tui.present.set_words import tell_record, tell_standing
from tui.present.terminal import is_terminal, say
from tui.verbs.set_prompt import Prompt

SKIP, AGAIN, LEAVE = "k", "r", "q"


class SetUp(msgspec.Struct, frozen=True, kw_only=True):
    """What was measured, in order."""

    steps: tuple[SetupRecord, ...]


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Measure the steps that were named, or walk all of them; or tell how they stand."""
    if arguments.list:
        found = as_it_stands(arguments.folder, arguments.part)
        if arguments.json:
            show_json({"steps": found})
        else:
            tell_standing(found)
        return DONE
    named = tuple(dict.fromkeys(step.replace("-", " ") for step in arguments.step))
    asks = [
        _asked(step, arguments) for step in named
    ]  # what is missing is said before anything opens
    prompt = None if named else _prompt(arguments, stop)
    listener = Plain(stop)
    records: list[SetupRecord] = []
    try:
        with setting_up(
            arguments.folder, chain=arguments.chain, part=arguments.part, listener=listener
        ) as (session, run_step):
            if prompt is None:
                records += [_told(run_step(asked), arguments) for asked in asks]
            else:
                tell_standing(standing(session, arguments.part))
                _walk(prompt, run_step, arguments, records)
    except StoppedError:
        say("stopped; what was measured before is kept")
        return INTERRUPTED
    if arguments.json:
        show_json(SetUp(steps=tuple(records)))
    return FAILED_CHECK if any(one.verdict == "redo" for one in records) else DONE


def _prompt(arguments: argparse.Namespace, stop: threading.Event) -> Prompt:
    if arguments.json or not is_terminal(sys.stdin):
        steps = ", ".join(step.replace(" ", "-") for step in STEPS)
        raise UseError(
            f"without a terminal nobody can be asked between the steps; name them: --step {steps}"
        )
    return Prompt(stop)


def _walk(
    prompt: Prompt, run_step: RunStep, arguments: argparse.Namespace, records: list[SetupRecord]
) -> None:
    """Lead through all steps; each can be skipped or done again."""
    for step in STEPS:
        _one_step(step, prompt, run_step, arguments, records)
        if prompt.left:
            return


def _one_step(
    step: StepName,
    prompt: Prompt,
    run_step: RunStep,
    arguments: argparse.Namespace,
    records: list[SetupRecord],
) -> None:
    answer = prompt.ask(f"{step}: enter measures, {SKIP} skips, {LEAVE} leaves")
    while answer not in (SKIP, LEAVE):
        try:
            records.append(_told(run_step(_asked(step, arguments)), arguments))
        except UseError as error:
            say(str(error))
        answer = prompt.ask(f"{step}: enter goes on, {AGAIN} measures again, {LEAVE} leaves")
        if answer != AGAIN:
            break
    prompt.left = prompt.left or answer == LEAVE


def _asked(step: StepName, arguments: argparse.Namespace) -> Asked:
    """Return what a step is asked for; nobody says here when it is enough, so it ends by itself."""
    words = {
        one.name: word
        for one in OPTIONS.get(step, ())
        if (word := getattr(arguments, one.name.replace("-", "_"))) is not None
    }
    part = part_of(arguments.folder, arguments.part)
    return asked_for(step, words, part=part, attended=False)


def _told(record: SetupRecord, arguments: argparse.Namespace) -> SetupRecord:
    if not arguments.json:
        tell_record(record)
    return record
