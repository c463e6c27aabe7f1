"""``secondpass plan``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.planned import see_plan, want_passes
from audio.vocab.errors import UseError
from audio.vocab.section_text import section_from
from tui.cli import DONE
from tui.present.json import show_json
from tui.present.plan_results import tell_plan


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """Add passes where some are asked for, then list the plan."""
    section = section_from(bars=arguments.bars, seconds=arguments.seconds)
    if bool(arguments.part) != bool(arguments.chain) or (section and not arguments.part):
        raise UseError("passes are added by part and chain; give --part and --chain, or neither")
    if arguments.part:
        want_passes(
            arguments.folder,
            parts=tuple(arguments.part),
            chains=tuple(arguments.chain),
            section=section,
            program="secondpass plan",
        )
    seen = see_plan(arguments.folder)
    if arguments.json:
        show_json(seen)
    else:
        tell_plan(seen)
    return DONE
