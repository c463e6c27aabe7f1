"""``plan.yaml``: which passes are wanted, as people write it; every mistake with its line.

An entry names one or several parts, or a whole song, and one or several chains, and means each of them
through each. Capitals do not matter: names are spelled as the session spells them. What a session does not
have is no mistake here: a part may be added later.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from audio.vocab.errors import UseError
from audio.vocab.form import Form
from audio.vocab.names import BARE_PATH, chain_problem, twin_key
from audio.vocab.plan import Costs, PlanFile, Wanted
from audio.vocab.section import Section
from audio.vocab.section_text import section_from
from audio.vocab.strict_yaml import Node, Problems, load
from audio.vocab.yaml_text import flow

ALL = "all"
"""In place of names: every part, or every chain that has a file."""

LONGEST_PART = 80
MOST_TIMES = 20
MOST_LINES = 5000
"""Passes of a plan: no evening, and no week, has more."""

COST = (0, 10_000)

TOO_MANY = f"over {MOST_LINES} passes so far; plan one evening at a time"

_KEYS = ("part", "parts", "song", "chain", "chains", "bars", "seconds", "times")
_EXAMPLE = "{part: hook, chain: crunch}"


@dataclass(frozen=True, slots=True)
class Known:
    """What a plan's ``all`` and ``song`` stand for."""

    parts: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Names of the parts of each song, in the session's order."""
    chains: tuple[str, ...] = ()
    """Names of the chains that have a file."""

    def every_part(self) -> tuple[str, ...]:
        """Return the names of all parts, in the session's order."""
        return tuple(part for parts in self.parts.values() for part in parts)


@dataclass(frozen=True, slots=True)
class _Spelled:
    """Names as the session spells them, by what does not change with capitals."""

    parts: dict[str, str]
    chains: dict[str, str]


def parse_plan(text: str, *, where: str, known: Known) -> PlanFile:
    """Read ``plan.yaml``; `UseError` with a line for each mistake in it if there is any.

    Parameters
    ----------
    text
        The file's text; an empty one is an empty plan.
    where
        The file's name for messages.
    known
        What ``all`` and ``song`` stand for.

    Returns
    -------
    PlanFile
        What is wanted, in the order written.
    """
    problems = Problems(where)
    root = load(text, problems=problems)
    problems.check()
    if root.value is None:
        return PlanFile()
    form = Form(
        root,
        problems=problems,
        what="",
        keys=("costs", "passes"),
        example=f"passes: [{_EXAMPLE}]",
    )
    costs = _costs(form)
    times: dict[tuple[str, str, str], int] = {}
    spelled = _Spelled(
        parts={twin_key(name): name for name in known.every_part()},
        chains={twin_key(name): name for name in (BARE_PATH, *known.chains)},
    )
    wanted: list[Wanted] = []
    for node in form.items("passes", example=f"[{_EXAMPLE}]"):
        wanted += _entry(node, problems, known, spelled, times)
        if len(wanted) > MOST_LINES:
            problems.stop(node.line, TOO_MANY)
    problems.check()
    return PlanFile(wanted=tuple(wanted), costs=costs)


def entry_text(
    parts: Sequence[str], chains: Sequence[str], section: Section | None
) -> dict[str, object]:
    """Return an entry's fields as they are written."""
    fields: dict[str, object] = {}
    fields |= {"part": parts[0]} if len(parts) == 1 else {"parts": list(parts)}
    fields |= {"chain": chains[0]} if len(chains) == 1 else {"chains": list(chains)}
    if section is not None and section.from_bar is not None:
        fields["bars"] = f"{section.from_bar}-{section.to_bar}"
    elif section is not None:
        fields["seconds"] = f"{section.from_s:g}-{section.to_s:g}"
    return fields


def entry_line(fields: dict[str, object]) -> str:
    """Return an entry as one line of ``plan.yaml``."""
    return f"- {flow(fields)}\n"


def key_of(part: str, chain: str, section: Section | None, time: int) -> str:
    """Return what tells a wanted pass from all others of a plan."""
    where = f", {section}" if section is not None else ""
    again = f" ({time})" if time > 1 else ""
    return f"{part} through {chain}{where}{again}"


def _costs(form: Form) -> Costs:
    inner = form.section(
        "costs",
        keys=("knob", "plug", "pedal", "amp"),
        example="{knob: 1, plug: 2, pedal: 5, amp: 40}",
    )
    if inner is None:
        return Costs()
    usual = Costs()
    low, high = COST
    return Costs(
        knob=inner.number("knob", low=low, high=high, default=usual.knob),
        plug=inner.number("plug", low=low, high=high, default=usual.plug),
        pedal=inner.number("pedal", low=low, high=high, default=usual.pedal),
        amp=inner.number("amp", low=low, high=high, default=usual.amp),
    )


def _entry(
    node: Node,
    problems: Problems,
    known: Known,
    spelled: _Spelled,
    times: dict[tuple[str, str, str], int],
) -> Iterator[Wanted]:
    form = Form(node, problems=problems, what="pass", keys=_KEYS, example=_EXAMPLE)
    if not form.filled:
        return
    parts = _as_spelled(_parts(form, known), spelled.parts)
    chains = _as_spelled(_names(form, "chain", "chains", everything=known.chains), spelled.chains)
    section = _section(form)
    often = form.whole("times", low=1, high=MOST_TIMES, default=1)
    for chain in chains:
        if chain and (problem := chain_problem(chain)):
            form.fail("chain" if form.has("chain") else "chains", problem)
    if len(chains) * len(parts) * often > MOST_LINES:
        problems.stop(node.line, TOO_MANY)
    for chain in chains:
        for part in parts:
            for _ in range(often):
                about = (part, chain, str(section or ""))
                times[about] = time = times.get(about, 0) + 1
                key = key_of(part, chain, section, time)
                yield Wanted(key=key, part=part, chain=chain, section=section, time=time)


def _as_spelled(names: tuple[str, ...], spelled: dict[str, str]) -> tuple[str, ...]:
    """Return names as the session spells them, each once; those it does not have as they are written."""
    return tuple(dict.fromkeys(spelled.get(twin_key(name), name) for name in names))


def _parts(form: Form, known: Known) -> tuple[str, ...]:
    if form.has("song"):
        if form.has("part") or form.has("parts"):
            form.fail("song", "a pass names a song or parts, not both; leave one of them out")
            return ()
        name = form.text("song", default="", longest=LONGEST_PART, example="last ferry")
        if name and name not in known.parts:
            songs = ", ".join(known.parts) or "none yet"
            form.fail("song", f"there is no song {name!r}; the session's songs are: {songs}")
        return known.parts.get(name, ())
    return _names(form, "part", "parts", everything=known.every_part())


def _names(form: Form, one: str, several: str, *, everything: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names of one key or the other; ``all`` means everything there is."""
    if form.has(one) and form.has(several):
        form.fail(several, f"a pass has {one} or {several}, not both; leave one of them out")
        return ()
    if not form.has(several):
        name = form.text(one, default="", required=True, longest=LONGEST_PART, example="…")
        return (name,) if name else ()
    node = form.get(several)
    if node is not None and node.value == ALL:
        return everything
    names = []
    for item in form.items(several, example=f"[…], or {several}: {ALL}"):
        inner = Form(
            Node(
                value={one: item},
                line=item.line,
                column=item.column,
                start=item.start,
                end=item.end,
                key_lines={one: item.line},
            ),
            problems=form.problems,
            what=form.what,
            keys=(one,),
            example=_EXAMPLE,
        )
        name = inner.text(one, default="", required=True, longest=LONGEST_PART)
        names += [name] if name else []
    return tuple(dict.fromkeys(names))


def _section(form: Form) -> Section | None:
    bars, seconds = form.get("bars"), form.get("seconds")
    values = [None if node is None else node.value for node in (bars, seconds)]
    if any(isinstance(value, (tuple, dict, bool)) for value in values):
        form.fail("bars" if bars else "seconds", "a section is written such as bars: 5-8")
        return None
    try:
        return section_from(bars=values[0], seconds=values[1])  # type: ignore[arg-type]
    except UseError as error:
        form.fail("bars" if bars else "seconds", str(error))
        return None
