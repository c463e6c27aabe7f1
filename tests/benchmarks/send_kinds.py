"""What may be wrong with a send, planted in rooms by seed, and the word by which the step names it.

As a script it prints, for rooms from 19,000 on, how many of each kind were named rightly, and how far the
figure lay from the truth; no constant was found on those seeds. ``--from`` begins elsewhere.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import report
from material import RATE
from msgspec.structs import replace
from playing import write_phrase

from audio.files.inspect import inspect
from audio.jobs.deck import Deck
from audio.jobs.setting.steps import run_step
from audio.jobs.talk import Silent
from audio.session.folder import create
from audio.vocab.setup import AskSendLevel, SendLevelResult
from audio.vocab.wiring import DiBox, Microphone, ReampBox, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text

FIRST_SEED = 19_000
PART = "riff"
DI_INPUT, MIC, FREE = 1, 2, 3
ONE_LEG_DB = 20.0 * float(np.log10(0.5))

Draw = np.random.Generator


class Kind(NamedTuple):
    """One state of the send: the box it is planted by, and the words that name it."""

    box: Callable[[Draw], dict[str, Any]]
    codes: frozenset[str]
    swapped: bool = False
    """Whether box and DI input are in another input than it is said."""


class Told(NamedTuple):
    """What the step said of one room."""

    seed: int
    kind: str
    codes: frozenset[str]
    off_db: float | None
    """The figure less the truth; None where nothing was told."""

    @property
    def is_named(self) -> bool:
        """Whether it was named by its own word and by no other kind's."""
        others = {c for name, one in KINDS.items() if name != self.kind for c in one.codes}
        own = KINDS[self.kind].codes
        return (not own or bool(own & self.codes)) and not (others - own) & self.codes


KINDS: dict[str, Kind] = {
    "send right": Kind(lambda draw: {"gain_db": draw.uniform(-0.4, 0.4)}, frozenset()),
    "send 6 dB hot": Kind(
        lambda draw: {"gain_db": draw.uniform(5.5, 6.5)}, frozenset({"send-level-off"})
    ),
    "one leg dead": Kind(
        lambda draw: {"gain_db": draw.uniform(-0.5, 0.5), "one_leg_dead": True},
        frozenset({"one-leg-dead"}),
    ),
    "send in another input": Kind(
        lambda draw: {"gain_db": draw.uniform(-6.0, 6.0)},
        frozenset({"send-level-elsewhere"}),
        swapped=True,
    ),
    "box dead": Kind(lambda _: {"gain_db": -80.0}, frozenset({"send-level-nothing"})),
}


def planted(seed: int, kind: str) -> Wiring:
    """Return a room with that state of the send; its other cables and boxes follow from the seed."""
    draw = np.random.default_rng([seed, 6])
    highs = None if draw.random() < 0.5 else float(draw.uniform(4000.0, 16_000.0))
    faults: list[dict[str, Any]] = []
    if draw.random() < 0.5:
        hz, level = float(draw.choice([50.0, 60.0])), float(draw.uniform(-90.0, -50.0))
        faults.append({"kind": "hum", "hz": hz, "level_dbfs": level, "input": DI_INPUT})
    if KINDS[kind].swapped:
        faults.append({"kind": "swapped inputs", "inputs": [DI_INPUT, FREE]})
    box = ReampBox(highs_hz=highs, inverted=bool(draw.integers(2)))
    device = SimulatedDevice(
        pace="free",
        inputs=4,
        outputs=4,
        seed=seed,
        converter_frames=float(draw.uniform(100.0, 400.0)),
        microphones=(Microphone(input=MIC, cabinet="none"),),
        reamp=replace(box, **KINDS[kind].box(draw)),
        di_box=DiBox(input=DI_INPUT, noise_dbfs=float(draw.uniform(-100.0, -70.0))),
        faults=tuple(faults),
    )
    return Wiring(
        name=f"room {seed}",
        device=device,
        sample_rate=RATE,
        send_output=3,
        returns=(Return(name="close", input=MIC),),
        reference="close",
        block_frames=1024,
    )


def told(seed: int, kind: str) -> Told:
    """Measure the send level of a room with real playing; return what was said."""
    wiring = planted(seed, kind)
    with tempfile.TemporaryDirectory(prefix="secondpass-bench-") as scratch:
        folder = Path(scratch)
        text = wiring_text(wiring)
        session = create(folder / "evening", name="e", song="s", wiring_text=text)
        di = write_phrase(folder / f"{PART}.wav", rate=RATE, seconds=5.0, seed=seed)
        session = session.add_part(source=di, facts=inspect(di), name=PART)
        asked = AskSendLevel(part=PART, di_input=DI_INPUT, unmoved=True, cycles=1)
        with Deck(wiring, Silent()) as deck:
            record = run_step(deck, session, asked)
    result = record.outcome.result
    assert isinstance(result, SendLevelResult)
    codes = frozenset(finding.code for finding in record.outcome.findings)
    truth = _truth(wiring)
    off = None if result.difference_db is None else result.difference_db - truth
    return Told(seed, kind, codes, off)


def _truth(wiring: Wiring) -> float:
    assert isinstance(wiring.device, SimulatedDevice)
    box = wiring.device.reamp
    return box.gain_db + (ONE_LEG_DB if box.one_leg_dead else 0.0)


def main() -> None:
    """Print the table."""
    parser = report.options(__doc__)
    parser.add_argument("--each", type=int, default=20, help="rooms of each kind")
    parser.add_argument("--from", type=int, default=FIRST_SEED, dest="first", help="first seed")
    said = parser.parse_args()
    each = 1 if said.short else said.each
    report.conditions(f"send level at free pace, seeds {said.first} to {said.first + each - 1}")
    for kind in KINDS:
        rooms = [told(said.first + number, kind) for number in range(each)]
        right = sum(one.is_named for one in rooms)
        report.figure(kind, f"{right} of {each}", "all", right == each)
        known = [abs(one.off_db) for one in rooms if one.off_db is not None]
        if known:
            report.figure(f"{kind}: furthest from the truth", f"{max(known):.3f} dB")
        for codes, count in Counter(one.codes for one in rooms if not one.is_named).items():
            print(f"      {count} said {', '.join(sorted(codes)) or 'no word'}")


if __name__ == "__main__":
    main()
