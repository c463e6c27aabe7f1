"""A pass that lands where the original lies against its DI, in the simulated room."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from msgspec.structs import replace
from needs import needs_samples
from playing import write_phrase
from scipy import signal
from sitting import RATE, Sitting, only, wired

from audio.files.inspect import inspect
from audio.jobs import news
from audio.jobs.orders import OpenStream, RunPass
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.wiring_text import wiring_text

LATE = 83


def session_with_original(folder: Path, *, late: int | None = LATE) -> Session:
    """Return a session whose part has an original so many frames behind its DI, or none."""
    wiring = replace(wired(), align_to="original", tail_s=1.0)
    where = folder / "evening"
    session = create(where, name="evening", song="low water", wiring_text=wiring_text(wiring))
    di = write_phrase(folder / "riff.wav", rate=RATE, seconds=6.0, seed=11)
    session = session.add_part(source=di, facts=inspect(di), name="riff")
    if late is None:
        return session
    played, _ = soundfile.read(di)
    amped = np.tanh(6.0 * np.concatenate((np.zeros(late), played))) * 0.3
    made = folder / "amp.wav"
    soundfile.write(made, amped, RATE, "PCM_24")
    return session.add_original("riff", source=made, facts=inspect(made), name="close")


@pytest.mark.slow
@needs_samples()
def test_the_return_lies_against_the_di_as_the_original_does(tmp_path: Path) -> None:
    session = session_with_original(tmp_path)
    with Sitting(session.folder).opened() as sitting:
        sitting.passed()
        files = sitting.variant(1)["files"]
    played, _ = soundfile.read(tmp_path / "riff.wav")
    returned, _ = soundfile.read(session.path(files[0]["path"]))
    # The room is a plain path: scipy's correlation finds its place to the frame.
    curve = signal.correlate(returned, played, method="fft")
    lags = signal.correlation_lags(returned.size, played.size)
    assert lags[np.argmax(np.abs(curve))] == pytest.approx(LATE, abs=1)


@needs_samples()
def test_a_part_without_an_original_is_refused_before_anything_sounds(tmp_path: Path) -> None:
    session = session_with_original(tmp_path, late=None)
    with Sitting(session.folder) as sitting:
        sitting.obeyed(OpenStream())
        told = sitting.obeyed(RunPass(part="riff", chain="plain"))
        assert "has no original" in only(told, news.Trouble).text
        assert sitting.nothing_sounds()
    assert not (session.folder / "passes" / "riff" / "001").exists()


@needs_samples()
def test_an_original_from_another_start_is_refused_with_how_far_it_lies(tmp_path: Path) -> None:
    session = session_with_original(tmp_path, late=RATE)
    with Sitting(session.folder) as sitting:
        sitting.obeyed(OpenStream())
        told = sitting.obeyed(RunPass(part="riff", chain="plain"))
        assert "lies 1.00 s from its DI" in only(told, news.Trouble).text
