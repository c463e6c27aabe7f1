from __future__ import annotations

import re
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    LOUD_DBFS,
    earlier,
    measures,
    order,
    recorded,
    slip,
    verdict,
    weigh,
)

from audio.vocab.alignment import Alignment
from audio.vocab.results import ClickReading

NUMBER = st.none() | st.floats(-1e6, 1e6)
ALIGNMENTS = st.none() | st.builds(
    Alignment,
    delay_frames=NUMBER,
    plus_minus_frames=st.none() | st.floats(0, 1e4),
    polarity=st.sampled_from(["normal", "inverted", "unsure"]),
    confidence=st.floats(0, 1),
    drift_ppm=NUMBER,
    drift_plus_minus_ppm=st.none() | st.floats(0, 1e4),
    slips=st.lists(st.builds(slip, st.integers(-999, 999)), max_size=2).map(tuple),
    reason=st.none() | st.just("no usable attack"),
)
READINGS = st.builds(
    ClickReading,
    delay_frames=NUMBER,
    plus_minus_frames=st.none() | st.floats(0, 1e3),
    peak_delay_frames=NUMBER,
    peak_plus_minus_frames=st.none() | st.floats(0, 1e3),
    spread_frames=st.none() | st.floats(0, 1e3),
    polarity=st.sampled_from(["normal", "inverted", "unsure"]),
    arrivals=st.lists(NUMBER, max_size=8).map(tuple),
    noise_dbfs=st.floats(-200, 0),
    peak_dbfs=st.floats(-200, 0),
    hum_hz=st.sampled_from([None, 50, 60]),
    hum_dbfs=st.none() | st.floats(-200, 0),
    reason=st.sampled_from([None, "nothing", "digital silence", "only hum", "unclear", "clipped"]),
)


@given(
    cables=st.tuples(ALIGNMENTS, ALIGNMENTS, ALIGNMENTS),
    opening=st.tuples(READINGS, READINGS) | st.just(()),
    closing=st.tuples(READINGS, READINGS) | st.just(()),
    ends=st.tuples(*(st.none() | READINGS,) * 4),
    rests=st.tuples(*(st.none() | st.floats(-200, 0),) * 4),
    share=st.none() | st.floats(0, 1),
    before=st.booleans(),
    source=st.sampled_from(["opening click", "bare path", "earlier pass", "none"]),
)
def test_whatever_is_missing_a_pass_is_judged_in_words(
    *,
    cables: Any,
    opening: Any,
    closing: Any,
    ends: Any,
    rests: Any,
    share: Any,
    before: bool,
    source: str,
) -> None:
    noise, hum, gain, adds = rests
    one = replace(
        recorded([LOUD_DBFS] * 100),
        rest_noise_dbfs=noise,
        rest_hum_dbfs=hum,
        copy_share=share,
        copy_gain_db=gain,
    )
    loop, witness, music = cables
    files = replace(measures(), returns=(one, one), loop=loop, witness=witness, music=music)
    of = order(
        opening_click=opening,
        witness_click=ends[0],
        loop_click=ends[1],
        delay_source=source,
        delay_frames=None if source == "none" else 1131.4,
        chain_adds_frames=adds,
        stray_inputs=(7,) if before else (),
    )
    found = verdict(
        of=of,
        files=files,
        closing=closing,
        witness=ends[2],
        loop=ends[3],
        before=(earlier(close={"hum_dbfs": hum, "noise_dbfs": noise}),) if before else (),
    )
    for finding in found:
        assert not re.search(r"\bNone\b|\bnan\b|\binf\b", finding.text + finding.advice)
        assert finding.weight == "good" or finding.advice
        assert finding.at_s is None or finding.at_s >= 0.0
        assert "\n" not in finding.text
    assert [weigh((f,)) for f in found] == sorted((weigh((f,)) for f in found), reverse=True)
