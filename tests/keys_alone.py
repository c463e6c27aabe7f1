"""A pass by keys alone, in a real terminal: what an engineer presses, and what is waited for in between."""

from __future__ import annotations

from terminal import Terminal

LONGEST_PASS_S = 90.0


def name_chain(one: Terminal, name: str) -> None:
    """Say what is plugged in."""
    one.press("n")
    one.wait_for("What is plugged in?")
    one.type(name)
    one.press("Enter")
    one.wait_for(f"through {name}")


def all_set(one: Terminal) -> str:
    """Wait until DI, send and chain are set: nothing is left to do before a pass."""
    return one.until(lambda shown: shown.count("■ set") >= 3, "DI, send and chain were not set")


def press_go(one: Terminal, chain: str) -> str:
    """Press space; return what stands there once the DI rolls, or it is said why it does not."""
    one.press("Space")
    one.wait_for("COUNTDOWN", chain, "nothing sounds")
    return one.until(
        lambda shown: "ROLLING" in shown or "NOT RECORDED" in shown,
        "the pass neither rolled nor failed",
        limit_s=LONGEST_PASS_S,
    )


def start_pass(one: Terminal, chain: str) -> str:
    """Start a pass that nothing can keep from rolling; return what stands there then."""
    shown = press_go(one, chain)
    assert all(words in shown for words in ("ROLLING", chain, "SENDING", "nothing lost")), shown
    return shown


def see_verdict(one: Terminal) -> str:
    """Wait for the verdict of the pass that rolls; return what stands there then."""
    return one.wait_for("VERDICT", "nothing sounds", limit_s=LONGEST_PASS_S)


def see_evidence(one: Terminal) -> str:
    """Look at what a verdict rests on and go back; return what stood there."""
    one.press("e")
    shown = one.wait_for("placement", "round trip", "counters")
    one.press("e")
    one.wait_for("VERDICT")
    return shown
