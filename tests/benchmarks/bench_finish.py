"""From the last frame of a pass to its finished ``variant.json``, for a DI of one minute and of ten.

Four microphones in the simulated room, as fast as it runs, so the worker that measures alongside has
least time (``--paced`` plays in real time). From the engine's report that the roll ended to the time
stamp of ``variant.json``, less the seconds the closing click itself plays, which are told apart; making
and reading that click count.

Goals: under 1 s each; ten minutes at most 1.3 times one, or 0.1 s more.
"""

from __future__ import annotations

from dataclasses import dataclass

import report
from session import PART, NotingDeck, long_session, simulated_wiring

from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.talk import Silent
from audio.session import layout
from audio.session.opened import Session

GOAL_S = 1.0


@dataclass(frozen=True)
class Finished:
    """What happened after the last frame, seconds."""

    finishing: float
    click: float
    verdict: str
    playing: float


def main() -> None:
    """Print the figures for both lengths."""
    parser = report.options(__doc__)
    parser.add_argument("--paced", action="store_true", help="in real time")
    parser.add_argument("--passes", type=int, default=3, help="passes of each length")
    said = parser.parse_args()
    minutes = (0.2, 2.0) if said.short else (1.0, 10.0)
    pace = "in real time" if said.paced else "at free pace"
    report.conditions(f"simulated room {pace}, four microphones, best of {said.passes} passes")
    short, long = (told(m, said.passes, paced=said.paced) for m in minutes)
    met = long <= max(1.3 * short, short + 0.1)
    report.figure(
        f"{minutes[1]:g} minutes over {minutes[0]:g}",
        f"{long / short:.2f}, {long - short:+.3f} s",
        "1.3, or 0.1 s more",
        met,
    )


def told(minutes: float, passes: int, *, paced: bool) -> float:
    """Measure some passes of one length, print the best, return its seconds."""
    with (
        long_session(seconds=60.0 * minutes) as session,
        NotingDeck(simulated_wiring(paced=paced), Silent()) as deck,
    ):
        runs = [finished(deck, session) for _ in range(passes)]
    best = min(runs, key=lambda run: run.finishing)
    name = f"{minutes:g} min ({best.verdict}, played in {best.playing:.1f} s)"
    all_of_them = ", ".join(f"{run.finishing:.2f}" for run in runs)
    met = best.finishing < GOAL_S
    report.figure(f"{name}: last frame to variant", f"{best.finishing:.3f} s", "under 1 s", met)
    report.figure(f"{name}: every pass", f"{all_of_them} s")
    report.figure(f"{name}: closing click played", f"{best.click:.3f} s")
    return best.finishing


def finished(deck: NotingDeck, session: Session) -> Finished:
    """Run one pass and return how long its end took."""
    deck.rolls.clear()
    done = run_pass(deck, session, part_name=PART, chain="bare path", known=Known())
    at = next(n for n, roll in enumerate(deck.rolls) if roll.kept)
    di, after = deck.rolls[at], deck.rolls[at + 1 :]
    click = sum(roll.ended - roll.began for roll in after)
    variant = done.variant
    folder = layout.pass_folder(session.folder, variant.part, variant.number)
    written = layout.variant_json(folder).stat().st_mtime
    return Finished(
        finishing=written - di.ended - click,
        click=click,
        verdict=variant.verdict,
        playing=di.ended - di.began,
    )


if __name__ == "__main__":
    main()
