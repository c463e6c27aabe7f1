"""How large a fault must at least be to be found and named: beside each code, to be judged by.

Below these sizes a finding may still come; from them on it must. A code that is missing here informs, or
tells of the program's own ways (``stopped``, ``no-closing-click``).
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

from audio.verdict.thresholds import (
    ANSWER_OVER_NOISE_DB,
    CLICK_LOOSE_MS,
    CLICK_MOVED_MS,
    CLOCK_OFF_PPM,
    DRIFT_FRAMES,
    LEAK_GAIN_DB,
    MUSIC_AGREES_MS,
    REFERENCE_LATE_MS,
    SLIP_FRAMES,
    UNANSWERED_S,
)

Unit = Literal["frames", "samples", "ms", "s", "dB", "ppm", "returns"]


class MinimumSize(NamedTuple):
    """The least size of one fault."""

    value: float
    unit: Unit
    words: str
    """What is measured, and under which conditions it must be found."""


MINIMUM_SIZES: Final[dict[str, MinimumSize]] = {
    # ---------------------------------------------------------------- what came back
    "nothing-came-back": MinimumSize(1, "returns", "no loud stretch of the DI answered at all"),
    "nothing-recorded": MinimumSize(1, "returns", "a capture without a frame"),
    "silent-from": MinimumSize(UNANSWERED_S, "s", "loud playing from there to its end, unanswered"),
    "silent-until": MinimumSize(UNANSWERED_S, "s", "loud playing up to there, unanswered"),
    "silent-between": MinimumSize(UNANSWERED_S, "s", "loud playing in a row, unanswered"),
    "dead-amp": MinimumSize(
        UNANSWERED_S, "s", "loud playing that no return answered; it stops there"
    ),
    "wrong-input": MinimumSize(
        1, "returns", "its click came in on an input the wiring does not name"
    ),
    "send-leaks": MinimumSize(
        LEAK_GAIN_DB,
        "dB",
        "a plain copy of the send at this or less, over the noise, and nothing else",
    ),
    "reference-not-first": MinimumSize(
        REFERENCE_LATE_MS, "ms", "another return hears the click so much earlier"
    ),
    # ---------------------------------------------------------------- clipping
    "clipped": MinimumSize(
        3, "samples", "one run of them at full scale; redo from the fourth run on"
    ),
    "send-clipped": MinimumSize(
        1, "frames", "of the DI over full scale on its way out; redo from 101"
    ),
    # ---------------------------------------------------------------- frames and clock
    "frames-lost": MinimumSize(1, "frames", "counted by the engine within the recording"),
    "frames-lost-outside": MinimumSize(1, "frames", "before the DI began, or after its last note"),
    "frames-slipped": MinimumSize(
        SLIP_FRAMES,
        "frames",
        "lost or inserted between the two clicks, by loop, witness, or clicks through a chain that holds "
        "still; by the music what its places resolve; put back at once, too, by loop or witness in playing "
        "whose first differences stand 10 dB over the noise",
    ),
    "frames-disturbed": MinimumSize(
        5.0,
        "ms",
        "of silence within loud playing, by loop or witness; look for anything else there",
    ),
    "clocks-drift": MinimumSize(DRIFT_FRAMES, "frames", "by the end of the DI, on loop or witness"),
    "clock-off": MinimumSize(CLOCK_OFF_PPM, "ppm", "beyond the uncertainty of the count"),
    # ---------------------------------------------------------------- place
    "placement-loose": MinimumSize(
        CLICK_LOOSE_MS,
        "ms",
        "half width of the 95 % interval that noise and movement leave (0.5 ms with the path's own smear), "
        "the music no surer",
    ),
    "not-placed": MinimumSize(1, "returns", "the reference never heard a click in this stream"),
    "placed-by-earlier": MinimumSize(
        1, "returns", "the reference did not hear this pass's click, and the music does not confirm"
    ),
    "placed-elsewhere": MinimumSize(
        MUSIC_AGREES_MS, "ms", "beyond its own ±, the music beside an earlier click's placement"
    ),
    "click-moved": MinimumSize(
        CLICK_MOVED_MS, "ms", "from the opening click to the closing one, no frame lost"
    ),
    # ---------------------------------------------------------------- against the chain's last variants
    "polarity-changed": MinimumSize(1, "returns", "polarity known now and then"),
    "noise-up": MinimumSize(
        10.0, "dB", "full band, since the chain's last variant or while the pass rolled"
    ),
    "hum-up": MinimumSize(
        10.0, "dB", "the mains lines over what they, or the noise above them, were; likewise"
    ),
    "level-off": MinimumSize(
        3.0,
        "dB",
        "loudness of a return beside its nearest sibling: same DI, trim, wiring and chain",
    ),
    "send-level-moved": MinimumSize(
        0.4,
        "dB",
        "gain of the witness over what was sent, beside the send level's set-up or the last variant; "
        "witness 30 dB and more over its noise",
    ),
    # ---------------------------------------------------------------- the end
    "tail-cut": MinimumSize(
        ANSWER_OVER_NOISE_DB,
        "dB",
        "over the idle noise all through the last second of the longest tail",
    ),
    "di-silent": MinimumSize(1, "returns", "a DI that never rises over −80 dBFS"),
}
"""By code."""
