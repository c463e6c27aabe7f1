"""``secondpass demo``."""

from __future__ import annotations

import argparse
import threading
from typing import TYPE_CHECKING

from tui.cli import DONE, INTERRUPTED
from tui.locations import settings_yaml
from tui.present.json import show_json
from tui.present.terminal import shows_screens, tell
from tui.settings import read_settings
from tui.show import show

if TYPE_CHECKING:
    from audio.jobs.runner import Runner


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Show the invented session, or play it in plain lines where nobody can look at a screen."""
    if arguments.headless or arguments.json or not shows_screens():
        return _play(arguments, stop)
    return _show(arguments, stop)


def _show(arguments: argparse.Namespace, stop: threading.Event) -> int:
    settings = read_settings(settings_yaml())

    def bring() -> Runner:
        from audio.jobs.demo import make_demo  # noqa: PLC0415 - the first picture need not wait for it
        from audio.jobs.runner import Runner  # noqa: PLC0415 - the same

        return Runner(make_demo(arguments.out).folder, program="secondpass demo")

    show(bring, settings=settings, end=stop)
    return DONE


def _play(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Make and play the invented session; its redo is on purpose and no failure."""
    from audio.jobs.demo import run_demo  # noqa: PLC0415 - what the screen does not need
    from tui.present.plain import Plain  # noqa: PLC0415 - the same
    from tui.present.results import tell_variant  # noqa: PLC0415 - the same

    made = run_demo(arguments.out, Plain(stop))
    if arguments.json:
        show_json({"session": made.session, "variants": made.variants})
    else:
        for variant in made.variants:
            tell_variant(variant)
        tell(f"session {made.session}")
    return INTERRUPTED if made.interrupted else DONE
