"""``secondpass offset``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.offsets import offset_of
from tui.cli import DONE, FAILED_CHECK
from tui.present.json import show_json
from tui.present.offsets import tell_offset


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """Compare the two files and tell how far the recording lies from the DI."""
    offset = offset_of(
        arguments.di,
        arguments.recording,
        di_channel=arguments.di_channel,
        channel=arguments.channel,
    )
    if arguments.json:
        show_json(offset)
    else:
        tell_offset(offset)
    return DONE if offset.delay_frames is not None else FAILED_CHECK
