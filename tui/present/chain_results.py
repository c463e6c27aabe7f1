"""Chains in lines for the command line."""

from __future__ import annotations

import sys

from audio.vocab.chain import Chain, Chains
from tui.present.chain_words import chain_lines, pedals_in_line
from tui.present.terminal import clean, tell, width, wrapped

EMPTY = """\
No chain has a file yet. Write one on the screen (secondpass open DIR, at the stage chain), or copy an
example of configs/chains into the session's folder chains."""


def tell_chains(known: Chains) -> None:
    """Print all chains, each with its pedals in order."""
    if not known.found:
        for line in wrapped(EMPTY.replace("\n", " "), columns=width(sys.stdout), indent=0):
            tell(line)
    for one in known.found:
        whose = "yours, for all sessions" if one.own else one.file
        tell(f"{clean(one.chain.name)}  ({clean(whose)})")
        for line in wrapped(pedals_in_line(one.chain), columns=width(sys.stdout), indent=4):
            tell(line)


def tell_chain(chain: Chain) -> None:
    """Print one chain whole."""
    tell(clean(chain.name))
    for line in chain_lines(chain):
        for piece in wrapped(line, columns=width(sys.stdout), indent=4):
            tell(piece)
