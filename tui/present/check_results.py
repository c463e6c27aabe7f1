"""A checked DI on the command line: verdict first, then each finding, then level and hits."""

from __future__ import annotations

import sys
from collections import Counter

from audio.grid.places import lateness
from audio.jobs.check_report import FileChecked
from audio.vocab.checked import Checked
from audio.vocab.readiness import DiFinding
from audio.vocab.timing import Pairs, Timing
from audio.vocab.units import clock_time
from tui.present.check_words import (
    WORDS,
    bars_line,
    change_lines,
    finding_sure,
    finding_where,
    hit_words,
    level_line,
    pairs_line,
    timing_line,
)
from tui.present.terminal import tell, width, wrapped

INDENT = 6
MOST_OF_A_KIND = 8


def tell_check(one: FileChecked) -> None:
    """Print what was found in one DI."""
    checked, rate = one.checked, one.checked.measures.facts.sample_rate
    lines = [_head(one)]
    lines += _findings(checked.findings, rate)
    lines += _wrapped(level_line(checked), INDENT)
    lines += _timing(checked)
    if one.drums is not None:
        lines += _pairs("beside the drums", one.drums)
    if one.double is not None:
        lines += _pairs("beside its double", one.double)
    if checked.change is not None:
        lines += _wrapped("against the revision before:", INDENT)
        for line in change_lines(checked.change, rate):
            lines += _wrapped(line, INDENT + 2)
    for line in lines:
        tell(line)


def _head(one: FileChecked) -> str:
    facts = one.checked.measures.facts
    length = clock_time(facts.frames / facts.sample_rate)
    depth = facts.encoding.removeprefix("PCM_") + "-bit" if "PCM_" in facts.encoding else "float"
    word = WORDS[one.checked.verdict].upper()
    return f"{word:5} {one.name}: {length}, {facts.sample_rate} Hz, {depth}"


def _findings(findings: tuple[DiFinding, ...], rate: int) -> list[str]:
    """Return the findings; of a kind that comes again and again only the first ones."""
    lines, advised, told = [], "", Counter[tuple[str, str]]()
    for one in findings:
        kind = (one.weight, one.code)
        told[kind] += 1
        if told[kind] <= MOST_OF_A_KIND:
            lines += _finding(one, rate, advised=advised)
            advised = one.advice
    more = [(code, count - MOST_OF_A_KIND) for (_, code), count in told.items()]
    left = [f"{count} more of {code}" for code, count in more if count > 0]
    return lines + (_wrapped(f"and {', '.join(left)}; --json lists all", INDENT) if left else [])


def _finding(one: DiFinding, rate: int, *, advised: str) -> list[str]:
    """Return where and what; and what to do, unless that was just said."""
    where, sure = finding_where(one, rate), finding_sure(one)
    head = ": ".join(filter(None, (where, one.text)))
    told = f"{head} ({sure})" if sure else head
    advice = "" if one.advice == advised else one.advice
    return _wrapped(told, INDENT) + _wrapped(advice, INDENT + 2)


def _timing(checked: Checked) -> list[str]:
    lines = _wrapped(timing_line(checked), INDENT)
    if isinstance(checked.timing, Timing) and checked.timing.bars:
        lines += _wrapped(bars_line(checked.timing), INDENT)
        for one in checked.timing.worst:
            lines += _wrapped(hit_words(one), INDENT + 2)
    return lines


def _pairs(what: str, pairs: Pairs) -> list[str]:
    lines = _wrapped(pairs_line(pairs, what=what), INDENT)
    for one in pairs.worst:
        where = one.place or clock_time(one.at_s)
        lines += _wrapped(f"{where}: {lateness(one.deviation_ms)}", INDENT + 2)
    for word, lone in (("missing", pairs.missing), ("extra", pairs.extra)):
        for hit in lone:
            lines += _wrapped(f"{word}: {hit.place or clock_time(hit.at_s)}", INDENT + 2)
    return lines


def _wrapped(words: str, indent: int) -> list[str]:
    return wrapped(words, columns=width(sys.stdout), indent=indent) if words else []
