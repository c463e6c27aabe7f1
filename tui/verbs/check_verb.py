"""``secondpass check``."""

from __future__ import annotations

import argparse
import threading
from pathlib import Path

from audio.jobs.check_alone import CheckAsked, Other, check
from audio.jobs.check_report import report_of
from audio.vocab.checked import HitsAsked
from tui.cli import DONE, FAILED_CHECK
from tui.present.check_results import tell_check
from tui.present.json import show_json
from tui.present.plain import Plain


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Check a file, or parts of a session."""
    found = check(_asked(arguments), listener=Plain(stop))
    if not arguments.json:
        for one in found:
            tell_check(one)
    elif len(found) == 1:
        show_json(report_of(found[0]))
    else:
        show_json({"parts": [report_of(one) for one in found]})
    verdicts = [one.checked.verdict for one in found]
    return FAILED_CHECK if "redo" in verdicts else DONE


def _asked(arguments: argparse.Namespace) -> CheckAsked:
    hits = HitsAsked(
        parts=arguments.parts,
        swing=None if arguments.swing is None else arguments.swing / 100,
        own_mean=arguments.own_mean,
    )
    return CheckAsked(
        di=arguments.di,
        part=arguments.part,
        channel=arguments.channel,
        bpm=arguments.bpm,
        metre=arguments.metre,
        tempo=arguments.tempo,
        first_beat_s=arguments.first_beat,
        hits=hits,
        raw=_other(arguments.raw, arguments.raw_channel),
        drums=_other(arguments.drums, arguments.drums_channel),
        double=_other(arguments.double, arguments.double_channel),
        wiring=arguments.wiring,
    )


def _other(path: Path | None, channel: int) -> Other | None:
    return None if path is None else Other(path=path, channel=channel)
