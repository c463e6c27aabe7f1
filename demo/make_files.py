"""Write every sound file of the demo: ``python -m demo.make_files FOLDER``.

The files in this folder were made by this program.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import soundfile

from audio.vocab.wiring_file import parse_wiring
from demo import content
from demo.backing import make_backing
from demo.first_take import PART, make_original
from demo.make_dis import RATE, TAKES, make_di


def main(folder: Path) -> None:
    """Write DIs, original and backing track into `folder`; files of the same names are replaced."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, take in TAKES.items():
        soundfile.write(folder / f"{name}.flac", make_di(take) << 8, RATE, subtype="PCM_24")
    wiring = (content() / "wiring.yaml").read_text(encoding="utf-8")
    original = make_original(parse_wiring(wiring, where="wiring.yaml"))
    soundfile.write(folder / f"{PART}.original.flac", original, RATE, subtype="PCM_16")
    soundfile.write(folder / "last-ferry.backing.flac", make_backing(), RATE, subtype="PCM_16")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write the demo's sound files.")
    parser.add_argument("folder", type=Path, help="where to; files of the same names are replaced")
    main(parser.parse_args().folder)
