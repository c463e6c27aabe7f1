"""``secondpass completion``."""

from __future__ import annotations

import argparse
import sys
import threading

import shtab

from tui.cli import DONE, build_parser
from tui.present.terminal import put


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """Print the shell's completion script; options that take a file complete files."""
    parser = build_parser()
    _mark_files(parser)
    put(sys.stdout, shtab.complete(parser, shell=arguments.shell) + "\n")
    return DONE


def _mark_files(parser: argparse.ArgumentParser) -> None:
    for action in parser._actions:  # noqa: SLF001 - argparse has no public way to walk its options
        if isinstance(action, argparse._SubParsersAction):  # noqa: SLF001 - the same
            for verb in action.choices.values():
                _mark_files(verb)
        elif action.metavar in ("FILE", "DI", "RECORDING"):
            action.complete = shtab.FILE  # type: ignore[attr-defined]
        elif action.metavar == "DIR":
            action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
