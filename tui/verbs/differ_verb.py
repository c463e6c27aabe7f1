"""``secondpass differ``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.differing import differ_alone
from audio.vocab.layers import variant_key
from audio.vocab.section_text import section_from
from tui.cli import DONE
from tui.present.json import show_json


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in seconds
    """Compare the two sounds and tell what is different."""
    apart = differ_alone(
        arguments.folder,
        arguments.part,
        variant_key(arguments.number),
        arguments.other,
        section=section_from(bars=arguments.bars, seconds=arguments.seconds),
    )
    if arguments.json:
        show_json(apart)
    else:
        from tui.present.differ_results import tell_differences  # noqa: PLC0415 - rich, which --json need not wait for

        tell_differences(apart)
    return DONE
