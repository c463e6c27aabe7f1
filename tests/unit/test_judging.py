"""What is written down of a pass: proof, alignments, microphones, what was before it."""

from __future__ import annotations

import json
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    CLOSING,
    RATE,
    WIRING,
    WITNESS,
    aligned,
    click,
    codes,
    earlier,
    ended,
    measures,
    order,
    slip,
)

from audio.jobs.judging import make_variant
from audio.vocab.alignment import Together
from audio.vocab.messages import Recorded
from audio.vocab.results import PassMeasures
from audio.vocab.variant import Variant
from audio.vocab.wiring import SimulatedDevice


def made(*, of: Any = None, files: PassMeasures | None = None, **given_: Any) -> Variant:
    recorded = Recorded(
        path="a.wav", frames=60 * RATE, audio_sha256="0" * 64, peak=(0.3,), clipped_samples=(0,)
    )
    known: dict[str, Any] = {
        "closing": CLOSING,
        "closing_witness": WITNESS,
        "closing_loop": None,
        "before": (),
        "state": "kept",
    }
    end = ended(recorded=(recorded, recorded))
    return make_variant(of or order(), end, files or measures(), **(known | given_))


def test_the_proof_and_what_it_rests_on_are_written_down() -> None:
    files = replace(measures(), loop=aligned(slips=(slip(64),)), music=aligned(confidence=0.95))
    one = made(files=files)
    assert one.proof == "loop"
    assert (one.loop, one.witness, one.music) == (files.loop, None, files.music)
    assert one.verdict == "redo"
    assert codes(one.findings)[0] == "frames-slipped"


def test_the_way_through_the_air_follows_the_rooms_temperature() -> None:
    # ISO 9613-1:1993: 343.2 m/s at 20 degrees; at 0 degrees 331.3 m/s (from memory).
    warm, cold = (
        made(of=order(wiring=replace(WIRING, room_celsius=c))).files[1] for c in (20.0, 0.0)
    )
    assert warm.extra_delay_frames == pytest.approx(218.8)
    assert warm.extra_delay_ms == pytest.approx(218.8 / 48)
    assert warm.extra_air_cm == pytest.approx(218.8 / RATE * 34_320)
    assert cold.extra_air_cm == pytest.approx(218.8 / RATE * 33_130, rel=1e-3)
    assert cold.extra_delay_ms == warm.extra_delay_ms


def test_a_return_that_hears_first_has_a_way_below_zero() -> None:
    one = made(of=order(wiring=replace(WIRING, reference="room"))).files[0]
    assert one.extra_air_cm is not None
    assert one.extra_air_cm < 0


def test_without_clicks_nothing_is_made_up() -> None:
    one = made(of=order(opening_click=(), train=None), closing=(), closing_witness=None)
    for file in one.files:
        assert file.extra_delay_frames is file.extra_delay_ms is file.extra_air_cm is None
        assert file.noise_dbfs is None
        assert file.polarity == "unsure"


def test_polarity_is_unsure_where_clicks_and_sum_disagree() -> None:
    files = measures()
    room = replace(
        files.returns[1], together=Together(polarity="inverted", sum_over_difference_db=-5.0)
    )
    one = made(files=replace(files, returns=(files.returns[0], room)))
    assert [file.polarity for file in one.files] == ["normal", "unsure"]


def test_noise_in_the_rests_is_kept() -> None:
    files = measures()
    close = replace(files.returns[0], rest_noise_dbfs=-71.0, rest_hum_dbfs=-75.0)
    one = made(files=replace(files, returns=(close, files.returns[1]))).files[0]
    assert (one.rest_noise_dbfs, one.rest_hum_dbfs) == (-71.0, -75.0)


def test_the_loops_clicks_are_proof() -> None:
    heard = click(delay_frames=1120.0)
    one = order(loop_click=heard, witness_click=None)
    assert made(of=one, closing_loop=heard, closing_witness=None).proof == "loop"


def test_only_earlier_passes_are_before_it() -> None:
    # A pass whose face died is judged at the next opening, when later ones may be there.
    turned = earlier(9, close={"polarity": "inverted"})
    assert made(before=(turned,)).findings == ()
    assert codes(made(before=(replace(turned, number=6),)).findings) == ["polarity-changed"]


def test_a_variant_from_before_there_were_proofs_is_read_and_compared() -> None:
    old = json.loads(msgspec.json.encode(earlier()))
    for key in ("proof", "loop", "witness", "music"):
        del old[key]
    for file in old["files"]:
        for key in ("extra_delay_ms", "extra_air_cm", "rest_noise_dbfs", "rest_hum_dbfs"):
            del file[key]
    for reading in (*old["opening_click"], *old["closing_click"]):
        del reading["shape"]
    read = msgspec.convert(old, Variant)
    assert read.proof == "counters"
    assert made(before=(read,)).findings == ()


def test_an_order_from_before_the_loops_click_was_kept_is_judged() -> None:
    old = json.loads(msgspec.json.encode(order()))
    del old["loop_click"], old["stray_inputs"]
    assert made(of=msgspec.convert(old, type(order()))).findings == ()


def test_a_variant_survives_its_own_file() -> None:
    files = replace(measures(), loop=aligned(slips=(slip(64),)), music=aligned())
    one = made(files=files)
    written = msgspec.json.encode(one)
    read = msgspec.json.decode(written, type=Variant)
    assert msgspec.json.encode(read) == written
    assert (read.loop, read.music, read.proof) == (one.loop, one.music, "loop")


@given(
    st.lists(st.dictionaries(st.text(max_size=8), st.integers(), max_size=3), max_size=3),
    st.booleans(),
)
def test_what_the_room_was_told_to_do_wrong_changes_no_word(
    faults: list[dict[str, int]], has_before: bool
) -> None:
    def judged(device: SimulatedDevice) -> Any:
        wiring = replace(WIRING, device=device)
        was = {"wiring": msgspec.to_builtins(replace(WIRING, device=SimulatedDevice()))}
        before = (earlier(setup=was, close={"polarity": "inverted", "loudness_lufs": -30.0}),)
        one = made(of=order(wiring=wiring), before=before if has_before else ())
        return one.verdict, one.findings, one.proof

    assert judged(SimulatedDevice(faults=tuple(faults))) == judged(SimulatedDevice())
