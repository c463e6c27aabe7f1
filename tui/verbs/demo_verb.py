"""``secondpass demo``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.demo import run_demo
from tui.cli import DONE, INTERRUPTED
from tui.present.json import show_json
from tui.present.plain import Plain
from tui.present.results import tell_variant
from tui.present.terminal import tell


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Make and play the invented session; its redo is on purpose and no failure."""
    made = run_demo(arguments.out, Plain(stop))
    if arguments.json:
        show_json({"session": made.session, "variants": made.variants})
    else:
        for variant in made.variants:
            tell_variant(variant)
        tell(f"session {made.session}")
    return INTERRUPTED if made.interrupted else DONE
