"""What can be done on the screen, by name; keys are bound to names, never to code.

The same key does the same thing everywhere, so one table serves every view: a view says which of these
actions it has, nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that can be done."""

    name: str
    """Stable, for the key map."""
    keys: tuple[str, ...]
    """Keys as Textual names them, the first one shown."""
    short: str
    """For the footer."""
    says: str
    """For the list of keys and the palette."""


ACTIONS = (
    Action(
        "go",
        ("space",),
        "start the pass",
        "start the pass after the countdown, or stop it and keep it",
    ),
    Action("walk_left", ("left",), "walk", "walk along the path, against the signal"),
    Action("walk_right", ("right",), "walk", "walk along the path, with the signal"),
    Action("choose_up", ("up",), "choose", "choose the line above"),
    Action("choose_down", ("down",), "choose", "choose the line below"),
    Action("enter", ("enter",), "open", "do the first thing this stage is for"),
    Action("back", ("escape",), "back", "go back, call off the countdown, put a message away"),
    Action("stop", ("s",), "stop", "stop whatever sounds; what was recorded is kept"),
    Action(
        "drive",
        ("t",),
        "take over",
        "on a second terminal: let its go start passes, and that of no other one",
    ),
    Action(
        "name", ("n",), "new name", "give a new name: to a chain, or to a microphone in the wiring"
    ),
    Action("write", ("k",), "write chain", "write down a chain: pedals, knobs, amp, microphones"),
    Action("more", ("j",), "knob", "give a pedal or the amp one knob more"),
    Action(
        "take_out",
        ("x",),
        "take out",
        "take a pedal or a knob out of what is written, a sound out of what is compared",
    ),
    Action(
        "run", ("g",), "run", "run the plan: card after card, pass after pass; or show its card"
    ),
    Action("hold", ("b",), "hold", "hold the run: a break, until somebody goes on"),
    Action("skip", ("f",), "skip", "leave a line of the plan out, or take it in again"),
    Action("again", ("a",), "again", "play a line of the plan once more"),
    Action(
        "end_run",
        ("z",),
        "end",
        "end the run, what is left stays in the plan; or end a blind sitting early",
    ),
    Action(
        "repeat",
        ("asterisk",),
        "repeat",
        "in a run: repeat a pass that is to be done again once, or hold the run at once",
    ),
    Action("page_up", ("pageup",), "page", "go up by what is in sight"),
    Action("page_down", ("pagedown",), "page", "go down by what is in sight"),
    Action("plan", ("l",), "plan", "the plan: what is to be played, in which order, what to touch"),
    Action("want", ("y",), "add passes", "add passes to the plan: parts through chains"),
    Action("least", ("home",), "least", "offer the plan in the order that replugs least"),
    Action("coverage", ("u",), "coverage", "which parts were played through which chains"),
    Action(
        "section",
        ("6",),
        "section",
        "play only some bars or seconds of the part, with a lead-in; or the whole again",
    ),
    Action("join", ("9",), "drop in", "drop the variant of a section into one of the whole part"),
    Action("note_values", ("8",), "note values", "what a delay is set to at the song's tempo"),
    Action("next_part", ("p",), "next part", "take the next part"),
    Action("click", ("c",), "test click", "send the test click and measure the round trip"),
    Action(
        "set",
        ("m",),
        "measure",
        "set up: measure the chosen step before the passes, or all in turn",
    ),
    Action("stream", ("o",), "stream", "open the audio device, or let go of it"),
    Action("wire", ("w",), "wiring", "choose device, send and returns, and save them"),
    Action("evidence", ("e",), "evidence", "show what a verdict rests on"),
    Action(
        "differ",
        ("less_than_sign", "greater_than_sign"),
        "differences",
        "what is different between two sounds, in figures and pictures",
    ),
    Action("rate_1", ("1",), "rate", "rate a variant 1 of 5"),
    Action("rate_2", ("2",), "rate", "rate a variant 2 of 5"),
    Action("rate_3", ("3",), "rate", "rate a variant 3 of 5"),
    Action("rate_4", ("4",), "rate", "rate a variant 4 of 5"),
    Action("rate_5", ("5",), "rate", "rate a variant 5 of 5"),
    Action(
        "flip_back",
        ("tab",),
        "back and forth",
        "hear the sound that was heard before, and back; a letter with shift flips to its sound",
    ),
    Action(
        "keep",
        ("exclamation_mark",),
        "keeper",
        "keep a variant, with a reason, or take that back",
    ),
    Action(
        "hand_over",
        ("at",),
        "hand over",
        "hand the keepers over: files, a recall sheet, a page to listen and choose",
    ),
    Action("words", ("i",), "words", "say words of a variant"),
    Action("note", ("v",), "more", "note more of a variant: photo, other name, real chain"),
    Action("discard", ("d",), "discard", "put a variant out of sight, or take it back"),
    Action("discarded", ("h",), "discarded", "show what was discarded, or hide it again"),
    Action("zoom_in", ("plus", "equals_sign"), "closer", "look closer at the waveform"),
    Action("zoom_out", ("minus",), "wider", "see more of the waveform"),
    Action("whole", ("0",), "whole", "see the whole waveform"),
    Action("scroll_left", ("comma", "shift+left"), "earlier", "move the waveform's view back"),
    Action("scroll_right", ("full_stop", "shift+right"), "later", "move the waveform's view on"),
    Action(
        "beside",
        ("7",),
        "second DI",
        "lay the song's other DIs beside this one in turn, hit by hit, then its backing track",
    ),
    Action(
        "grid",
        ("slash",),
        "grid",
        "what hits are held against: places in a beat, swing, or the part's own mean",
    ),
    Action("reread", ("r",), "read again", "read DIs and devices again"),
    Action("keys", ("question_mark",), "keys", "list the keys of this stage"),
    Action("palette", ("ctrl+p",), "find", "find an action by its words"),
    Action("quit", ("q",), "quit", "leave; a pass that rolls is asked about first"),
)

RATE = "rate_1+rate_2+rate_3+rate_4+rate_5"
"""All keys that rate, as a footer names them."""

BY_NAME = {action.name: action for action in ACTIONS}

LABELS = {
    "space": "space",
    "left": "←",
    "right": "→",
    "up": "↑",
    "down": "↓",
    "enter": "enter",
    "escape": "esc",
    "plus": "+",
    "equals_sign": "=",
    "minus": "−",
    "comma": ",",
    "full_stop": ".",
    "question_mark": "?",
    "exclamation_mark": "!",
    "at": "@",
    "slash": "/",
    "less_than_sign": "<",
    "greater_than_sign": ">",
    "ctrl+p": "ctrl+p",
    "asterisk": "*",
    "tab": "tab",
    "home": "home",
    "pageup": "pgup",
    "pagedown": "pgdn",
}
"""How keys are written where people read them; others stand as they are."""


def label(key: str) -> str:
    """Return how a key is written."""
    return LABELS.get(key, key)
