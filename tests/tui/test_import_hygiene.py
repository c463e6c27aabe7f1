"""The face's process stays light: looked at when it has done its work, not only when it starts."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from installed import environment, make_bench
from needs import needs_samples
from unit.tempo_cases import END, midi, tempo_event

HEAVY = (
    *("numpy", "scipy", "soundfile", "sounddevice", "pyloudnorm"),
    *("matplotlib", "PIL", "textual"),
)
"""What computes, loads PortAudio, draws pictures or the full screen."""

LOOK = """
import json, sys
from pathlib import Path
from tui.cli import main
try:
    code = main(sys.argv[2:])
except SystemExit as ended:
    code = ended.code
Path(sys.argv[1]).write_text(json.dumps([code, sorted(sys.modules)]))
"""


def loaded_after(*arguments: str, folder: Path) -> set[str]:
    """Run the command in a fresh interpreter; return the top-level names of what it loaded by its end."""
    subprocess.run(
        [sys.executable, "-P", "-c", LOOK, "modules.json", *arguments],
        cwd=folder,
        env=environment(folder),
        capture_output=True,
        timeout=60,
        check=True,
    )
    code, modules = json.loads((folder / "modules.json").read_text())
    assert code == 0
    return {name.partition(".")[0] for name in modules}


@pytest.mark.parametrize("words", [("--help",), ("devices", "--help"), ("completion", "bash")])
def test_help_loads_nothing_heavy(tmp_path: Path, words: tuple[str, ...]) -> None:
    loaded = loaded_after(*words, folder=tmp_path)
    assert "tui" in loaded
    assert loaded.isdisjoint((*HEAVY, "wakepy", "mido"))


@needs_samples()
@pytest.mark.slow
def test_a_tempo_file_is_read_without_anything_heavy(tmp_path: Path) -> None:
    bench = make_bench(tmp_path / "bench")
    (bench / "click.mid").write_bytes(midi(tempo_event(0, 625_000) + END))
    loaded = loaded_after("add", "tonight", "--tempo", "click.mid", folder=bench)
    assert (bench / "tonight/tempo/tonight.mid").is_file()
    assert "mido" in loaded
    assert loaded.isdisjoint(HEAVY)


@needs_samples()
def test_a_whole_pass_loads_nothing_heavy(tmp_path: Path) -> None:
    bench = make_bench(tmp_path / "bench")
    words = ("pass", "tonight", "--part", "riff", "--chain", "crunch")
    loaded = loaded_after(*words, folder=bench)
    assert (bench / "tonight/passes/riff/001/variant.json").is_file()
    assert "audio" in loaded
    assert loaded.isdisjoint(HEAVY)
