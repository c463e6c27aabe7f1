"""A chain's file as people write it; every mistake with its line.

What a knob says is kept as it was written, so it is taken from the text, not from what YAML makes of it:
``7`` stays 7, ``7.0`` stays 7.0, ``2:30`` and ``off`` stay what they are.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping

import msgspec
from msgspec.structs import replace

from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal
from audio.vocab.characters import is_hidden
from audio.vocab.form import Form
from audio.vocab.names import chain_problem, twin_key
from audio.vocab.strict_yaml import Node, Problems, load

LONGEST = 80
"""Characters of a pedal's name, a knob's name and a setting: they stand on a card."""

LONGEST_NOTE = 500
MOST_PEDALS = 60

KEYS = ("name", "as", "pedals", "without", "turn", "amp", "amps", "mics", "photos", "note")
PEDAL_KEYS = ("pedal", "knobs", "moves", "note")
AMP_KEYS = ("name", "input", "knobs", "loop", "speaker", "tap", "note")
MIC_KEYS = ("return", "mic", "place", "preamp", "gain", "pad", "filters", "outboard")

NO_NAME = "amp"
"""What `turn` calls the amp of a chain that has only one and gives it no name."""

_PEDAL = "{pedal: fuzz, knobs: {volume: 2:30}}"
_AMP = "{input: bright, knobs: {treble: 6}}"


class Written(msgspec.Struct, frozen=True, kw_only=True):
    """What a chain's file says, before the chain it extends is known."""

    chain: Chain
    """With `like`: only what the file itself says of pedals, amps and microphones."""
    own_pedals: bool = False
    """Whether it says which pedals there are; otherwise they are those of the other chain."""
    own_photos: bool = False
    without: tuple[str, ...] = ()
    turn: dict[str, dict[str, str]] = {}
    lines: dict[str, int] = {}
    """Lines of `as`, `without` and `turn`, and of each name in them (``turn fuzz``)."""


def parse_chain(text: str, *, where: str, name: str) -> Written:
    """Read a chain's file; `UseError` with a line for each mistake in it if there is any.

    Parameters
    ----------
    text
        The file's text.
    where
        The file's name for messages.
    name
        What the chain is called where the file does not say.

    Returns
    -------
    Written
        What it says.
    """
    problems = Problems(where)
    root = load(text, problems=problems)
    form = Form(root, problems=problems, what="", keys=KEYS, example=f"pedals: [{_PEDAL}]")
    reader = _Reader(text, problems)
    like = form.text("as", default="", longest=LONGEST, example="crunch")
    called = form.text("name", default=name, longest=LONGEST, example="fuzz into delay")
    if problem := chain_problem(called):
        form.fail("name", problem)
    for key in ("without", "turn"):
        if form.has(key) and not like:
            form.fail(key, f"{key} changes another chain; name it: as: crunch")
    chain = Chain(
        name=called,
        like=like,
        pedals=reader.pedals(form, "pedals"),
        amps=reader.amps(form),
        mics=tuple(reader.mics(form)),
        photos=reader.texts(form, "photos", example="[fuzz.jpg]"),
        note=form.text("note", default="", longest=LONGEST_NOTE),
    )
    written = Written(
        chain=chain,
        own_pedals=form.has("pedals"),
        own_photos=form.has("photos"),
        without=reader.texts(form, "without", example="[tuner]"),
        turn=reader.turns(form),
        lines=reader.lines,
    )
    _refuse_twins(chain, form)
    problems.check()
    return written


def extended(written: Written, base: Chain, *, problems: Problems) -> Chain:
    """Return a chain whole, as what it extends is known now.

    Parameters
    ----------
    written
        What its file says.
    base
        The chain it extends, whole.
    problems
        Takes what is wrong: a pedal that is not there, twins.

    Returns
    -------
    Chain
        With everything of `base` but for what the file says.
    """
    said = written.chain
    pedals = said.pedals if written.own_pedals else base.pedals
    amps = said.amps or base.amps
    there = {p.name for p in (*pedals, *(p for amp in amps for p in amp.loop))}
    for name in written.without:
        if name not in there:
            line = written.lines.get(f"without {name}", 1)
            problems.add(line, _no_such(name, base.name, there))
    gone = frozenset(written.without)
    pedals = tuple(_turned(p, written.turn) for p in pedals if p.name not in gone)
    called = {amp.name or NO_NAME for amp in amps}
    for name in written.turn:
        if name not in there and name not in called:
            line = written.lines.get(f"turn {name}", 1)
            problems.add(line, _no_such(name, base.name, there | called))
    amps = tuple(
        replace(
            amp,
            knobs={**amp.knobs, **written.turn.get(amp.name or NO_NAME, {})},
            loop=tuple(_turned(p, written.turn) for p in amp.loop if p.name not in gone),
        )
        for amp in amps
    )
    mics = {one.return_name: one for one in (*base.mics, *said.mics)}
    return replace(
        said,
        pedals=pedals,
        amps=amps,
        mics=tuple(mics.values()),
        photos=said.photos if written.own_photos else base.photos,
        note=said.note or base.note,
    )


def _no_such(name: str, base: str, there: set[str]) -> str:
    known = ", ".join(sorted(there)) or "none"
    return f"there is no {name!r} in {base!r}; known there: {known}"


def _turned(pedal: Pedal, turn: Mapping[str, dict[str, str]]) -> Pedal:
    return replace(pedal, knobs={**pedal.knobs, **turn.get(pedal.name, {})})


def _refuse_twins(chain: Chain, form: Form) -> None:
    """Refuse pedals that cannot be told apart: a card, a plan and `turn` know them by their names."""
    seen: set[str] = set()
    for pedal in (*chain.pedals, *(p for amp in chain.amps for p in amp.loop)):
        if twin_key(pedal.name) in seen:
            way_out = "call one of them otherwise, such as 'drive 2'"
            form.fail("pedals", f"there are two pedals {pedal.name!r}; {way_out}")
        seen.add(twin_key(pedal.name))
    for what, key, names in (
        ("amps", "amps", [amp.name for amp in chain.amps]),
        ("microphones on return", "mics", [mic.return_name for mic in chain.mics]),
    ):
        twins = [name for at, name in enumerate(names) if name in names[:at]]
        if twins:
            form.fail(key, f"there are two {what} {twins[0]!r}; keep one of them")


class _Reader:
    """Reads the pieces; knows the text, for what is kept as it was written."""

    def __init__(self, text: str, problems: Problems) -> None:
        self._text = text
        self._problems = problems
        self.lines: dict[str, int] = {}

    def pedals(self, form: Form, key: str) -> tuple[Pedal, ...]:
        nodes = form.items(key, example=f"[{_PEDAL}]")
        if len(nodes) > MOST_PEDALS:
            form.fail(key, f"over {MOST_PEDALS} pedals; name the right file")
        return tuple(self._pedal(node) for node in nodes[:MOST_PEDALS])

    def _pedal(self, node: Node) -> Pedal:
        if isinstance(node.value, str):  # just a name: - tuner
            node = dataclasses.replace(node, value={"pedal": node}, key_lines={"pedal": node.line})
        form = Form(
            node, problems=self._problems, what="pedal", keys=PEDAL_KEYS, example=f"- {_PEDAL}"
        )
        return Pedal(
            name=form.text("pedal", default="", required=True, longest=LONGEST, example="fuzz"),
            knobs=self._settings(form, "knobs"),
            moves=form.flag("moves", default=False),
            note=form.text("note", default="", longest=LONGEST_NOTE),
        )

    def amps(self, form: Form) -> tuple[AmpAsSet, ...]:
        if form.has("amp") and form.has("amps"):
            form.fail("amps", "a chain has an amp or amps, not both; keep one of them")
        one = form.get("amp")
        nodes = (one,) if one is not None else form.items("amps", example=f"[{_AMP}]")
        return tuple(self._amp(node, several=one is None) for node in nodes)

    def _amp(self, node: Node, *, several: bool) -> AmpAsSet:
        form = Form(node, problems=self._problems, what="amp", keys=AMP_KEYS, example=_AMP)
        return AmpAsSet(
            name=form.text("name", default="", required=several, longest=LONGEST, example="left"),
            input=self._word(form, "input"),
            knobs=self._settings(form, "knobs"),
            loop=self.pedals(form, "loop"),
            speaker=self._word(form, "speaker"),
            tap=self._word(form, "tap"),
            note=form.text("note", default="", longest=LONGEST_NOTE),
        )

    def mics(self, form: Form) -> Iterator[MicAsSet]:
        for node in form.items("mics", example="[{return: close, mic: ribbon}]"):
            one = Form(
                node,
                problems=self._problems,
                what="mic",
                keys=MIC_KEYS,
                example="{return: close, mic: ribbon, place: 4 cm off the edge}",
            )
            back = one.text("return", default="", required=True, longest=LONGEST, example="close")
            yield MicAsSet(
                return_name=back,
                **{key: self._word(one, key) for key in MIC_KEYS if key != "return"},
            )

    def texts(self, form: Form, key: str, *, example: str) -> tuple[str, ...]:
        found = []
        for node in form.items(key, example=example):
            value = self._setting(node, f"{key} item")
            self.lines[f"{key} {value}"] = node.line
            found += [value] if value else []
        return tuple(found)

    def turns(self, form: Form) -> dict[str, dict[str, str]]:
        """Return knobs set otherwise, by pedal or amp."""
        node = form.get("turn")
        if node is None:
            return {}
        if not isinstance(node.value, dict):
            form.fail(
                "turn", "turn says which knobs stand otherwise; write turn: {fuzz: {volume: 2:30}}"
            )
            return {}
        found = {}
        for name, inner in node.value.items():
            line = node.key_lines.get(name, node.line)
            self.lines[f"turn {name}"] = line
            found[name] = self._knobs(inner, f"turn {name}")
        return found

    def _settings(self, form: Form, key: str) -> dict[str, str]:
        node = form.get(key)
        return {} if node is None else self._knobs(node, f"{form.what} {key}")

    def _knobs(self, node: Node, what: str) -> dict[str, str]:
        if not isinstance(node.value, dict):
            self._problems.add(
                node.line, f"{what} is no mapping; write knob: setting, such as {{volume: 7}}"
            )
            return {}
        found = {}
        for knob, value in node.value.items():
            line = node.key_lines.get(knob, node.line)
            if len(knob) > LONGEST:
                self._problems.add(
                    line, f"a knob's name is longer than {LONGEST} characters; shorten it"
                )
            elif setting := self._setting(value, f"{what} {knob}"):
                found[knob] = setting
        return found

    def _word(self, form: Form, key: str) -> str:
        node = form.get(key)
        return "" if node is None else self._setting(node, f"{form.what} {key}")

    def _setting(self, node: Node, what: str) -> str:
        """Return one setting as it was written; what is left empty is not set."""
        value = node.value
        if isinstance(value, (dict, tuple)):
            self._problems.add(node.line, f"{what} is a list or a mapping; write one setting")
            return ""
        if value is None:
            return ""
        text = value if isinstance(value, str) else self._text[node.start : node.end]
        text = text.strip()
        if any(is_hidden(c) for c in text):
            self._problems.add(node.line, f"{what} has a hidden character in it; type it again")
            return ""
        if len(text) > LONGEST:
            self._problems.add(node.line, f"{what} is longer than {LONGEST} characters; shorten it")
            return ""
        return text
