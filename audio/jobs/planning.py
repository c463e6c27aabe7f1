"""The plan as it stands, from everything the session holds."""

from __future__ import annotations

from audio.session.chains import Chains
from audio.session.opened import Session
from audio.vocab.opinion import Opinion
from audio.vocab.plan import PlanNow
from audio.vocab.variant import Summary


def plan_now(
    session: Session,
    *,
    chains: Chains,
    variants: tuple[Summary, ...],
    opinions: tuple[Opinion, ...],
) -> PlanNow:
    """Return the plan's lines in the order in which they are offered.

    Parameters
    ----------
    session
        Its ``plan.yaml`` and journal are read.
    chains
        What is known of chains; one that has no file costs a pedal to get to.
    variants
        All there are; the newest tells what is plugged in now.
    opinions
        A discarded variant answers no line; one whose chain was corrected answers that chain's.

    Returns
    -------
    PlanNow
        What is wrong in the file is said in it, not raised.
    """
    del session, chains, variants, opinions
    return PlanNow()
