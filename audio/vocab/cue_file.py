"""The key ``cue`` of a wiring file: what people hear at the listen outputs while a pass plays."""

from __future__ import annotations

from audio.vocab.form import Form
from audio.vocab.wiring import Cue, Wiring
from audio.vocab.yaml_text import flow

BACKING_DB = (-60.0, 0.0)
"""Range of the backing's gain; never louder than its file, which nobody has heard at the desk yet."""

COUNT_IN_BARS = (0, 4)
COUNT_IN_DBFS = (-60.0, -6.0)

_KEYS = ("backing_db", "count_in_bars", "count_in_dbfs")
EXAMPLE = "{backing_db: -6, count_in_bars: 1, count_in_dbfs: -20}"


def read_cue(form: Form) -> Cue | None:
    """Return the cue of a wiring, None where it is left out; notes what is wrong with it."""
    section = form.section("cue", keys=_KEYS, example=EXAMPLE)
    if section is None:
        return None
    low, high = COUNT_IN_BARS
    usual = Cue()
    cue = Cue(
        backing_db=section.number(
            "backing_db", low=BACKING_DB[0], high=BACKING_DB[1], default=None
        ),
        count_in_bars=section.whole("count_in_bars", low=low, high=high, default=0),
        count_in_dbfs=section.number(
            "count_in_dbfs",
            low=COUNT_IN_DBFS[0],
            high=COUNT_IN_DBFS[1],
            default=usual.count_in_dbfs,
        ),
    )
    if _is_empty(section):
        form.fail("cue", f"the cue plays nothing; write cue: {EXAMPLE}, or leave cue out")
    return cue


def _is_empty(section: Form) -> bool:
    """Return whether nothing plays; what is misspelt or wrong is told already."""
    if not isinstance(section.node.value, dict) or not set(section.node.value) <= set(_KEYS):
        return False
    bars = section.get("count_in_bars")
    return not section.has("backing_db") and (bars is None or bars.value == 0)


def check_cue(form: Form, wiring: Wiring) -> None:
    """Refuse a cue that nobody could hear."""
    if wiring.cue is not None and not form.has("listen"):
        form.fail(
            "cue",
            "a cue is wired, but no output people listen on; write listen: {outputs: [1, 2]}, or"
            " leave cue out",
        )


def cue_lines(wiring: Wiring) -> list[str]:
    """Return the key as it is written in a wiring file: one line, or none."""
    cue = wiring.cue
    if cue is None:
        return []
    backing = {} if cue.backing_db is None else {"backing_db": cue.backing_db}
    fields = backing | {"count_in_bars": cue.count_in_bars, "count_in_dbfs": cue.count_in_dbfs}
    return [f"cue: {flow(fields)}      # heard during a pass, never sent"]
