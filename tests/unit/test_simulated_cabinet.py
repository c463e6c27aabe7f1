"""The family of cabinets: where they begin, how they sound, what phase they have."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import group_delay, minimum_phase
from simulated_wirings import SILENT, plain, played, pulse, room

from audio.device.simulated.cabinet import CABINETS, Kind, cabinet_response, random_cabinet
from audio.vocab.errors import UseError

RATES = (44_100, 48_000, 96_000, 192_000)
MINIMUM = ("closed back", "open back", "small")
REFLECTIONS = ("floor bounce", "deep box")
MIXED = ("off axis", "two speakers")
KINDS: tuple[Kind, ...] = ("minimum", "reflections", "mixed")


def named(name: str, rate: int) -> NDArray[np.float64]:
    return cabinet_response(name, rate=rate, where="here")


def gain_db(response: NDArray[np.float64], hz: float, rate: int) -> float:
    turn = np.exp(-2j * np.pi * hz / rate * np.arange(response.size))
    return float(20.0 * np.log10(abs(response @ turn)))


def late_by(response: NDArray[np.float64]) -> float:
    """Mean of the energy over time, frames: least for the minimum-phase one of all with its magnitude."""
    energy = response**2
    return float(np.arange(response.size) @ energy / energy.sum())


def test_every_named_member_belongs_to_a_kind_tested_here() -> None:
    assert set(MINIMUM + REFLECTIONS + MIXED) == set(CABINETS)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("name", sorted(CABINETS))
def test_nothing_arrives_before_the_truth_and_something_does_at_it(name: str, rate: int) -> None:
    one = room(rate=rate, converter_frames=131.0, microphones=(plain(cabinet=name),), **SILENT)
    heard = np.abs(played(one, pulse(4096))[:, 1])
    first = round(one.truth(2).delay_frames)
    assert heard[:first].max() < 1e-4 * heard.max()  # −80 dB
    assert heard[first] > 1e-3 * heard.max()


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("name", MINIMUM)
def test_minimum_phase_members_agree_with_a_general_librarys_minimum_phase(
    name: str, rate: int
) -> None:
    response = named(name, rate)
    referee = minimum_phase(
        np.convolve(response, response[::-1]), method="homomorphic", n_fft=2**18
    )[: response.size]
    assert np.max(np.abs(referee - response)) < 0.02 * np.max(np.abs(response))


@pytest.mark.parametrize("name", MIXED)
def test_mixed_members_are_later_than_minimum_phase_of_their_magnitude(name: str) -> None:
    response = named(name, 48_000)
    least = minimum_phase(np.convolve(response, response[::-1]), n_fft=2**18)[: response.size]
    assert late_by(response) > late_by(least) + 3.0


@pytest.mark.parametrize("name", sorted(CABINETS))
def test_a_member_sounds_the_same_at_every_rate(name: str) -> None:
    for hz in (90.0, 200.0, 800.0, 2500.0, 5000.0, 9000.0):
        levels = [gain_db(named(name, rate), hz, rate) for rate in RATES]
        assert max(levels) - min(levels) < 0.5


@pytest.mark.parametrize("name", MINIMUM + MIXED)
def test_a_member_has_the_shape_of_a_guitar_loudspeaker(name: str) -> None:
    # Common practice, no source: little bass, presence at 2 to 4 kHz, a steep fall beyond 5 kHz.
    response = named(name, 48_000)
    levels = {hz: gain_db(response, hz, 48_000) for hz in (30.0, 150.0, 500.0, 3000.0, 10_000.0)}
    assert levels[30.0] < levels[150.0] - 10.0
    assert max(gain_db(response, hz, 48_000) for hz in (2000.0, 2500.0, 3000.0, 3500.0)) > -3.0
    assert levels[10_000.0] < levels[500.0] - 20.0


def test_a_reflection_arrives_when_and_as_strong_as_the_floor_says() -> None:
    rate = 48_000
    base, bounced = named("closed back", rate), named("floor bounce", rate)
    scale = bounced[0] / base[0]
    extra = bounced - base * scale
    assert np.max(np.abs(extra[:100])) < 1e-3 * np.max(np.abs(bounced))
    at = round(2.31e-3 * rate)
    there = np.abs(extra[at : at + 40]).max() / np.abs(base * scale).max()
    assert there == pytest.approx(0.45, abs=0.08)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_random_members_begin_at_once_and_pass_100_hz_to_5_khz_at_0_db(
    kind: Kind, rate: int
) -> None:
    for seed in range(6):
        response = random_cabinet(seed, kind, rate=rate)
        assert response[0] > 1e-4 * np.max(np.abs(response))
        power = [
            10.0 ** (gain_db(response, hz, rate) / 10.0) for hz in np.geomspace(100, 5000, 200)
        ]
        assert 10.0 * np.log10(np.mean(power)) == pytest.approx(0.0, abs=0.3)


def test_random_members_repeat_by_seed_and_differ_between_seeds_and_kinds() -> None:
    one = random_cabinet(3, "mixed", rate=48_000)
    assert np.array_equal(one, random_cabinet(3, "mixed", rate=48_000))
    assert not np.array_equal(one, random_cabinet(4, "mixed", rate=48_000))
    assert not np.array_equal(one, random_cabinet(3, "minimum", rate=48_000))


def test_a_random_mixed_member_has_excess_group_delay() -> None:
    response = random_cabinet(2, "mixed", rate=48_000)
    least = minimum_phase(np.convolve(response, response[::-1]), n_fft=2**18)[: response.size]
    turn = 2.0 * np.pi * np.linspace(300.0, 4000.0, 200) / 48_000
    excess = group_delay((response, [1.0]), turn)[1] - group_delay((least, [1.0]), turn)[1]
    assert excess.max() > 3.0
    assert np.median(excess) > 0.5


def test_no_cabinet_is_one_tap() -> None:
    assert named("none", 48_000).tolist() == [1.0]


def test_a_cabinet_nobody_knows_is_refused_with_those_that_are_known() -> None:
    microphone = plain(cabinet="clossed back")
    with pytest.raises(
        UseError, match=r"input 2: no cabinet 'clossed back'.*'none', 'closed back'"
    ):
        room(rate=48_000, microphones=(microphone,), **SILENT)
    with pytest.raises(UseError, match="write 'minimum', 'reflections' or 'mixed'"):
        random_cabinet(1, "maximum", rate=48_000)  # type: ignore[arg-type]
