"""The status block: one consistent picture, read while it is written, from another process too."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audio.vocab.status import MAX_CHANNELS, SIZE, Meters, Status, StatusReader, StatusWriter

SILENT = Meters(peak=(), rms=(), held=(), clips=())


def meters(channels: int, *, level: float = 0.5, clips: int = 3) -> Meters:
    return Meters(
        peak=(level,) * channels,
        rms=(level / 2,) * channels,
        held=(level,) * channels,
        clips=(clips,) * channels,
    )


def status(n: int = 1, *, inputs: Meters = SILENT, outputs: Meters = SILENT) -> Status:
    return Status(
        stream_frame=n,
        roll_frame=-n,
        timeline_frame=n,
        roll_length=n,
        roll_id=n % 1000,
        state=n % 7,
        dropouts=n % 1000,
        flagged=n % 1000,
        inputs=inputs,
        outputs=outputs,
    )


def test_nothing_was_published_yet_reads_as_none(tmp_path: Path) -> None:
    writer = StatusWriter(tmp_path / "status")
    reader = StatusReader(tmp_path / "status")
    assert reader.read() is None
    writer.write(status())
    assert reader.read() == status()
    writer.close()
    reader.close()
    assert (tmp_path / "status").stat().st_size == SIZE


def test_a_block_left_by_an_earlier_engine_is_forgotten(tmp_path: Path) -> None:
    first = StatusWriter(tmp_path / "status")
    first.write(status(7))
    first.close()
    second = StatusWriter(tmp_path / "status")
    reader = StatusReader(tmp_path / "status")
    assert reader.read() is None
    second.close()
    reader.close()


singles = st.floats(0, 2, width=32)


@st.composite
def some_meters(draw: st.DrawFn) -> Meters:
    channels = draw(st.integers(0, MAX_CHANNELS))
    row = st.tuples(*[singles] * channels)
    clips = draw(st.tuples(*[st.integers(0, 2**32 - 1)] * channels))
    return Meters(peak=draw(row), rms=draw(row), held=draw(row), clips=clips)


@settings(max_examples=40)
@given(
    frames=st.integers(-(2**62), 2**62),
    roll_id=st.integers(-1, 2**31 - 1),
    inputs=some_meters(),
    outputs=some_meters(),
)
def test_every_picture_comes_back_exactly(
    tmp_path_factory: pytest.TempPathFactory,
    frames: int,
    roll_id: int,
    inputs: Meters,
    outputs: Meters,
) -> None:
    path = tmp_path_factory.mktemp("status") / "status"
    writer, reader = StatusWriter(path), StatusReader(path)
    shown = replace(status(inputs=inputs, outputs=outputs), roll_frame=frames, roll_id=roll_id)
    writer.write(shown)
    assert reader.read() == shown
    writer.close()
    reader.close()


def test_the_longest_recording_a_counter_must_hold_fits(tmp_path: Path) -> None:
    # A day at 192 kHz has 1.66e10 frames: more than 32 bits, where counters are known to wrap.
    writer, reader = StatusWriter(tmp_path / "s"), StatusReader(tmp_path / "s")
    writer.write(status(24 * 3600 * 192_000))
    shown = reader.read()
    assert shown is not None
    assert shown.stream_frame == 24 * 3600 * 192_000 > 2**32
    writer.close()
    reader.close()


def test_more_channels_than_the_block_has_room_for_are_cut(tmp_path: Path) -> None:
    writer, reader = StatusWriter(tmp_path / "s"), StatusReader(tmp_path / "s")
    writer.write(status(inputs=meters(MAX_CHANNELS + 5), outputs=meters(2, clips=2**40)))
    shown = reader.read()
    assert shown is not None
    assert shown.inputs == meters(MAX_CHANNELS)
    assert shown.outputs.clips == (2**32 - 1, 2**32 - 1)
    writer.close()
    reader.close()


WRITE_WITHOUT_PAUSE = """
import pathlib, sys
from audio.vocab.status import Meters, Status, StatusWriter

writer = StatusWriter(pathlib.Path(sys.argv[1]))
print("up", flush=True)
n = 0
while True:
    n += 1
    k = n % 1000
    row = Meters(peak=(k / 1024,) * 8, rms=(k / 2048,) * 8, held=(k / 1024,) * 8, clips=(k,) * 8)
    writer.write(Status(n, -n, n, n, k, n % 7, k, k, row, row))
"""


def test_a_picture_is_never_mixed_of_two_while_another_process_writes(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", WRITE_WITHOUT_PAUSE, tmp_path / "s"], stdout=subprocess.PIPE
    ) as engine:
        try:
            assert engine.stdout is not None
            assert engine.stdout.readline() == b"up\n"
            reader = StatusReader(tmp_path / "s")
            seen = 0
            while seen < 3000:
                shown = reader.read()
                if shown is None:
                    continue
                seen += 1
                n = shown.stream_frame
                row = meters(8, level=(n % 1000) / 1024, clips=n % 1000)
                assert shown == status(n, inputs=row, outputs=row)
            reader.close()
        finally:
            engine.kill()


def test_a_writer_that_died_while_writing_is_not_believed(tmp_path: Path) -> None:
    writer, reader = StatusWriter(tmp_path / "s"), StatusReader(tmp_path / "s")
    writer.write(status())
    block = bytearray((tmp_path / "s").read_bytes())
    block[0] += 1  # an odd sequence number, as in the middle of a write
    with (tmp_path / "s").open("r+b") as file:
        file.write(block)
    assert reader.read() is None
    writer.close()
    reader.close()


def test_another_process_reads_what_this_one_writes(tmp_path: Path) -> None:
    writer = StatusWriter(tmp_path / "s")
    writer.write(status(12345, inputs=meters(4)))
    code = (
        "import sys, pathlib\nfrom audio.vocab.status import StatusReader\n"
        "s = StatusReader(pathlib.Path(sys.argv[1])).read()\n"
        "print(s.stream_frame, s.inputs.peak, 'numpy' in sys.modules)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, tmp_path / "s"], capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == "12345 (0.5, 0.5, 0.5, 0.5) False"
    writer.close()


def test_a_reader_cannot_change_the_block(tmp_path: Path) -> None:
    writer, reader = StatusWriter(tmp_path / "s"), StatusReader(tmp_path / "s")
    with pytest.raises(TypeError, match="readonly"):
        reader._map[0] = 1
    writer.close()
    reader.close()
