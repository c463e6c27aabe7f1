"""Files the program writes and reads again: journal, order, roll, variant."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
import report
from bad_kind import Kind, Refused, Wrong
from unit.session_cases import WIRING, order, variant

from audio.grid.bars import bar_grid
from audio.jobs.check_report import FileChecked, report_of
from audio.jobs.readiness import judged
from audio.plan.blind_result import comparisons
from audio.plan.setup import statuses
from audio.session import journal, readiness, records
from audio.session.blind import sittings
from audio.session.history import history
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.session.setups import read_record
from audio.session.sounds import read_sound
from audio.vocab.balance import balance_problem
from audio.vocab.messages import Dropout, Ended, Recorded, encode
from audio.vocab.saying import BEST_RATING
from audio.vocab.session_file import Revision, SessionFile, Song
from tui.present.blind_words import told_lines

sys.path.append(str(report.TESTS / "unit"))

from di_cases import CLEAN
from setup_cases import record, sound

_HOOK = {"part": "hook", "number": 1}
_SAID = (
    {"rating": 4},
    {"chain": "fuzz", "chain_content": {"pedals": [{"name": "fuzz"}]}, "words": "é", "called": ""},
    {"photo": "a.jpg", "discarded": True},
    {"balance": {"faders": [{"name": "room", "db": -6.0}], "solo": ["room"]}},
    {"keeper": True, "reason": "née"},
)
_BLIND = (
    {"event": "blind begun", "sitting": 1, "part": "hook", "mode": "pairs", "sounds": ["001", "di"]}
    | {"listener": "née", "planned": 2, "trials": [["001", "di"], ["di", "001"]]},
    {"event": "blind answer", "sitting": 1, "trial": 1, "behind": ["001", "di"], "said": "tie"},
    {"event": "blind answer", "sitting": 1, "trial": 2, "behind": ["di", "001"], "said": "first"},
    {
        "event": "blind begun",
        "sitting": 2,
        "part": "hook",
        "mode": "ranking",
        "sounds": ["001", "di"],
    }
    | {"listener": "née", "planned": 1, "trials": [["di", "001"]]},
    {"event": "blind answer", "sitting": 2, "trial": 1, "behind": ["di", "001"], "said": [2, 1]},
    {"event": "blind ended", "sitting": 2, "early": False},
)
_JOURNAL = "".join(
    json.dumps({"at": "2026-11-25T12:00:00+01:00"} | line, ensure_ascii=False) + "\n"
    for line in (
        {"event": "claimed", **_HOOK},
        {"event": "judged", **_HOOK},
        {"event": "rated", "stars": 4.5, "words": "née ♥"},
        {"event": "part added", "file": "di/a.wav", "x": [{}]},
        *({"event": "said", **_HOOK, **said} for said in _SAID),
        {"event": "joined", "part": "hook", "number": 2, "base": 1, "section": 3},
        *_BLIND,
    )
)
_WORDS = (
    *(b"null", b"true", b"{}", b"[]", b'""', b'"format": 2', b'"format": 1e3', b"-0.0", b'"say"'),
    *(b'"../../../etc/passwd"', b'"/etc/passwd"', b'"passes/hook/001/a.wav"', b'"C:\\\\x"', b"\\n"),
    *(b'"kept"', b'"good"', b'"kind": "simulated"', b'"at"', b'"event"', b'"claimed"', b'"number"'),
    *(
        b'"said"',
        b'"rating": 5',
        b'"Ended"',
        b'"Opened"',
        b'"reason": "complete"',
        b'"x": ',
        b'"\\u001b[31m": 1',
        b"\\ud83d",
    ),
)


def kinds() -> tuple[Kind, ...]:
    """Return this file's kinds."""
    return (
        Kind("journal.jsonl", "journal.jsonl", _read_journal, _journals, _extremes, _WORDS),
        _record("order.json", records.read_order, lambda: [_bytes(order())]),
        _record("roll.json", records.read_roll, lambda: [_roll()]),
        _record("variant.json", records.read_variant, lambda: [_bytes(variant())]),
        Kind(
            "setup record",
            "001-polarity.json",
            _read_setup,
            lambda: [_bytes(record())],
            _extremes,
            _WORDS,
        ),
        Kind(
            "readiness record",
            "hook.wav.json",
            _read_readiness,
            lambda: [
                _bytes(readiness.DiRecord(made_at="2026-11-27T12:00:00+01:00", measures=CLEAN))
            ],
            _extremes,
            _WORDS,
            names_file=False,
        ),
        Kind(
            "sound.json",
            "sound.json",
            _read_sound,
            lambda: [_bytes(sound("the lead"))],
            _extremes,
            _WORDS,
        ),
    )


def extremes() -> list[bytes]:
    """Return JSON that is hard to read, with and without an end."""
    return [
        *(b"", b"null", b"[]", b"{}", b"\0" * 10_000, b"\xff" * 10_000, b'{"\xff": 1}', b"1e999"),
        *(b"[" * 300_000, b'{"a":' * 60_000, b'{"a":' * 900 + b"1" + b"}" * 900, b'"' * 9000),
        *(b"[" * 900 + b"]" * 900, b'{"x": ' + b"[" * 9000 + b"]" * 9000 + b"}", b"9" * 9000),
        *(b'{"a": "' + b"x" * 390_000 + b'"}', b'{"say": "\\u001b[2J"}', b'{"\\u0007\\n": 1}'),
        *(b'{"format": 99}', b'{"format": true}', b'{"format": -1}', b'{"format": 1e300}'),
    ]


_extremes = extremes


def _journals() -> list[bytes]:
    return [_JOURNAL.encode(), _JOURNAL.encode() * 5]


def _record(name: str, read: Callable[[Path], Any], seeds: Callable[[], list[bytes]]) -> Kind:
    return Kind(name, name, lambda path: _again(path, read), seeds, _extremes, _WORDS)


def _plain(name: str, read: Callable[[Path], None], seeds: Callable[[], list[bytes]]) -> Kind:
    return Kind(name, name, read, seeds, _extremes, _WORDS)


def _bytes(value: Any) -> bytes:
    return msgspec.json.format(msgspec.json.encode(value), indent=2)


def _roll() -> bytes:
    captured = Recorded(
        path="passes/hook/001/hook_001_fuzz_close.wav",
        frames=480_000,
        audio_sha256="ab" * 32,
        peak=(0.5,),
        clipped_samples=(0,),
    )
    lost = Dropout(at_frame=4000, kind="clock step", frames=512)
    ended = Ended(
        roll_id=3,
        reason="complete",
        stream_frame=10,
        frames=480_000,
        recorded=(captured,),
        dropouts=(lost,),
        clock_ppm=1.5,
    )
    return _bytes(json.loads(encode(ended)))


def _read_setup(path: Path) -> None:
    """Read a record of the set-up, and say whether it holds."""
    one, now = read_record(path), datetime.now().astimezone()
    msgspec.json.encode((one, statuses((one,), wiring=WIRING, part=None, now=now)))


def _read_readiness(path: Path) -> None:
    """Read what is remembered of a DI, and judge it; what is damaged counts as none."""
    revision = Revision(file="di/hook.wav", file_sha256=CLEAN.facts.file_sha256)
    found = readiness.read_measures(path, revision)
    if found is None:
        raise Refused("it counts as none")
    bars = bar_grid(Song(name="any", bpm=96.0), time_reference=0, rate=found.facts.sample_rate)
    checked = judged(found, bars=bars)
    msgspec.json.encode(report_of(FileChecked(name="any", checked=checked)))


def _read_sound(path: Path) -> None:
    one = read_sound(path)
    msgspec.json.encode(one)
    for file in (one.phrase.file, *(taken.path for taken in one.files)):
        if ".." in Path(file).parts or Path(file).is_absolute():
            raise Wrong(f"a path leaves the session's folder: {file!r}")


def _read_journal(path: Path) -> None:
    """Read it, what was said in it, and the history of a variant; what was said can be shown."""
    session = Session(folder=path.parent, file=SessionFile(name="any"))
    for entry in journal.read(path.parent):
        msgspec.json.encode(entry)
    for said in opinions(session):
        msgspec.json.encode((said, history(session, said.part, said.number)))
        if not (said.rating is None or 1 <= said.rating <= BEST_RATING) or said.number < 1:
            raise Wrong(f"an opinion that cannot be: {said!r}")
        if balance_problem(said.balance) or (said.keeper and said.discarded):
            raise Wrong(f"an opinion that cannot be: {said!r}")
    msgspec.json.encode(history(session, "hook", 1))
    sat = sittings(session)
    msgspec.json.encode((sat, comparisons(sat)))
    told_lines(comparisons(sat))


def _again(path: Path, read: Callable[[Path], Any]) -> None:
    """Read a record; what was read can be written and stays in its session."""
    value = read(path.parent)
    msgspec.json.encode(value)
    named = [*getattr(value, "paths", ()), *(one.path for one in getattr(value, "files", ()))]
    if (di := getattr(value, "di", None)) is not None:
        named.append(di.path)
    for one in named:
        if ".." in Path(one).parts or Path(one).is_absolute() or not one or "\0" in one:
            raise Wrong(f"a path leaves the session's folder: {one!r}")
