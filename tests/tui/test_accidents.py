"""Accidents in mid-pass by the clock; what is killed (-9) stands in tests/engine/test_kills.py."""

from __future__ import annotations

import hashlib
import json
import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import soundfile
from accidents import Evening, engine_of, fill, is_gone, small_disk
from needs import needs_samples

pytestmark = needs_samples()


def is_whole(evening: Evening, variant: dict[str, Any], *, at_least_s: float) -> bool:
    """Check every file of a variant against its hash and the reader's frame count."""
    for file in variant["files"]:
        path = evening.session / file["path"]
        assert soundfile.info(path).frames == file["frames"] >= at_least_s * 48_000
        audio = path.read_bytes()[4096 : 4096 + 3 * file["frames"]]
        assert hashlib.sha256(audio).hexdigest() == file["audio_sha256"]
    return True


def variant_of(evening: Evening, number: int) -> dict[str, Any]:
    value: dict[str, Any] = json.loads(
        (evening.takes / f"{number:03d}" / "variant.json").read_text()
    )
    return value


@pytest.mark.slow
def test_ctrl_c_stops_and_keeps(tmp_path: Path) -> None:
    evening = Evening(tmp_path, seconds=20.0)
    face = evening.start()
    evening.wait_recording(1)
    face.send_signal(signal.SIGINT)
    out, said = face.communicate(timeout=60)
    assert face.returncode == 130
    assert "Traceback" not in said
    variant = json.loads(out)
    assert variant["state"] == "stopped"
    assert [f["code"] for f in variant["findings"] if f["weight"] == "redo"] == []
    assert is_whole(evening, variant, at_least_s=0.5)
    assert variant["files"][0]["frames"] < 15 * 48_000


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    with small_disk(tmp_path / "disk") as folder:
        yield folder


@pytest.mark.slow
def test_a_disk_that_fills_up_ends_the_pass_and_keeps_what_fitted(disk: Path) -> None:
    evening = Evening(disk, seconds=20.0)
    face = evening.start()
    evening.wait_recording(1)
    ballast = fill(disk)
    out, said = face.communicate(timeout=90)
    ballast.unlink()
    assert "Traceback" not in said
    if face.returncode == 1:
        variant = json.loads(out)
    else:  # there was no room for the verdict either: it comes with the next opening
        assert face.returncode == 2
        assert evening.passed()["number"] == 2
        variant = variant_of(evening, 1)
    assert variant["verdict"] == "redo"
    assert variant["state"] == "stopped", "the engine's own record had its room"
    assert "disk-full" in [f["code"] for f in variant["findings"]]
    assert is_whole(evening, variant, at_least_s=0.5)


def test_a_pass_that_cannot_fit_is_refused_before_a_number_is_claimed(disk: Path) -> None:
    evening = Evening(disk, seconds=20.0)
    (disk / "ballast").write_bytes(bytes(60 << 20))
    evening.passed(ok=(2,))
    assert "MB left" in evening.said
    assert not evening.takes.exists()


@pytest.mark.slow
def test_an_engine_that_hangs_is_ended_when_the_engineer_stops(tmp_path: Path) -> None:
    evening = Evening(tmp_path, seconds=4.0)
    face = evening.start()
    engine = engine_of(face)
    evening.wait_recording(1)
    os.kill(engine, signal.SIGSTOP)
    face.send_signal(signal.SIGINT)
    out, said = face.communicate(timeout=90)
    assert face.returncode == 3
    assert "does not answer" in said
    assert "Traceback" not in said
    assert is_gone(engine)
    assert json.loads(out)["state"] == "recovered"
    assert evening.passed()["number"] == 2
