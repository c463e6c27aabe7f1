"""``secondpass set``: the steps before a pass, one by one or those that were named."""

from __future__ import annotations

import argparse
import sys
import threading
from collections.abc import Callable

import msgspec

from audio.jobs.deck import StoppedError
from audio.jobs.setting.alone import as_it_stands, part_of, setting_up, standing
from audio.jobs.setting.wanted import OPTIONS, asked_for
from audio.vocab.errors import UseError
from audio.vocab.session_file import Part
from audio.vocab.setup import Asked, SetupRecord
from audio.vocab.step_names import STEPS, StepName
from tui.cli import DONE, FAILED_CHECK, INTERRUPTED
from tui.present.json import show_json
from tui.present.plain import Plain
from tui.present.set_words import tell_record, tell_standing
from tui.present.terminal import is_terminal, say
from tui.verbs.set_prompt import LEAVE, Prompt

SKIP, AGAIN = "k", "r"


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
    part = part_of(arguments.folder, arguments.part)
    # What is missing is said before anything opens.
    asks = [_asked(step, arguments, part) for step in named]
    prompt = None if named else _prompt(arguments, stop)
    listener = Plain(stop)
    records: list[SetupRecord] = []
    try:
        with setting_up(
            arguments.folder, chain=arguments.chain, part=arguments.part, listener=listener
        ) as (session, run_step):

            def measure(asked: Asked) -> None:
                records.append(_told(run_step(asked), arguments))

            if prompt is None:
                for asked in asks:
                    measure(asked)
            else:
                tell_standing(standing(session, arguments.part))
                _walk(prompt, lambda step: measure(_asked(step, arguments, part)))
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


def _walk(prompt: Prompt, measure: Callable[[StepName], None]) -> None:
    """Lead through all steps; each can be skipped or done again."""
    for step in STEPS:
        answer = prompt.ask(f"{step}: enter measures, {SKIP} skips, {LEAVE} leaves")
        while answer not in (SKIP, LEAVE):
            try:
                measure(step)
            except UseError as error:
                say(str(error))
            answer = prompt.ask(f"{step}: enter goes on, {AGAIN} measures again, {LEAVE} leaves")
            if answer != AGAIN:
                break
        if answer == LEAVE:
            return


def _asked(step: StepName, arguments: argparse.Namespace, part: Part | None) -> Asked:
    """Return what a step is asked for; nobody says here when it is enough, so it ends by itself."""
    words = {
        one.name: word
        for one in OPTIONS.get(step, ())
        if (word := getattr(arguments, one.name.replace("-", "_"))) is not None
    }
    return asked_for(step, words, part=part, attended=False)


def _told(record: SetupRecord, arguments: argparse.Namespace) -> SetupRecord:
    if not arguments.json:
        tell_record(record)
    return record
