"""``secondpass pass``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.alone import one_pass
from audio.jobs.deck import StoppedError
from audio.vocab.section_text import section_from
from tui.cli import DONE, FAILED_CHECK, INTERRUPTED
from tui.present.json import show_json
from tui.present.plain import Plain
from tui.present.results import tell_variant
from tui.present.terminal import say

FAULT = 3


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Run one pass and tell its verdict."""
    section = section_from(bars=arguments.bars, seconds=arguments.seconds)
    try:
        passed = one_pass(
            arguments.folder,
            part=arguments.part,
            chain=arguments.chain,
            wiring_path=arguments.wiring,
            listener=Plain(stop),
            section=section,
            as_it_is=arguments.as_it_is,
        )
    except StoppedError:
        say("stopped before the DI rolled; nothing was recorded")
        return INTERRUPTED
    if arguments.json:
        show_json(passed.variant)
    else:
        tell_variant(passed.variant)
    if passed.fault:
        say(f"secondpass: {passed.fault}")
        return FAULT
    if passed.interrupted:
        return INTERRUPTED
    return FAILED_CHECK if passed.variant.verdict == "redo" else DONE
