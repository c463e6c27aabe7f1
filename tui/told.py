"""What the steps of the set-up can be told on the command line; light, for its help."""

from __future__ import annotations

TOLD_TO_STEPS = {
    "patch": ("STATE", "silence: unplugged, plugged or lifted, one by one"),
    "method": ("M", "send level: loop or voltmeter"),
    "di-input": ("N", "send level: the input that recorded the DI"),
    "cable": ("WORDS", "send level: what leads from the box to that input"),
    "unmoved": ("yes", "send level: its pad and gain are as they were then"),
    "volts": ("V", "send level: what the voltmeter reads at the box"),
    "full-scale": ("DBU", "send level: full scale of the send"),
    "raw": ("FILE", "send level: the DI before it was edited"),
    "trim": ("yes", "send level: make it up by the part's trim"),
    "low": ("DBFS", "return gain: lowest peak wanted (-18)"),
    "high": ("DBFS", "return gain: highest peak wanted (-8)"),
    "dba": ("DBA", "return gain: level at your ears, off a meter"),
    "patched": ("N", "delay: a cable leads from the send into input N"),
    "sound": ("NAME", "sound: which one"),
    "do": ("keep", "sound: keep it, instead of comparing"),
    "from": ("S", "sound: where the phrase begins, seconds"),
    "notes": ("WORDS", "sound: settings, places, anything"),
}
"""By the option's name in `audio.jobs.setting.wanted`, which is not loaded for the sake of help."""
