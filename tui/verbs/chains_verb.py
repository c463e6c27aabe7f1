"""``secondpass chains``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.planned import see_chains
from audio.vocab.errors import UseError
from tui.cli import DONE, FAILED_CHECK
from tui.present.chain_results import tell_chain, tell_chains
from tui.present.json import show_json
from tui.present.terminal import say


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """List the chains, or show one."""
    known = see_chains(arguments.folder)
    if arguments.show is not None:
        chain = known.named(arguments.show)
        if chain is None:
            names = ", ".join(one.chain.name for one in known.found) or "none yet"
            raise UseError(f"there is no file for {arguments.show!r}; chains with a file: {names}")
        if arguments.json:
            show_json(chain)
        else:
            tell_chain(chain)
        return DONE
    if arguments.json:
        show_json(known)
    else:
        tell_chains(known)
    for problem in known.problems:
        for line in f"secondpass: {problem}".split("\n"):
            say(line)
    return FAILED_CHECK if known.problems else DONE
