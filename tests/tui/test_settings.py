"""The user's own settings: keys, countdown, and what is said of mistakes."""

from __future__ import annotations

from pathlib import Path

import pytest

from audio.vocab.errors import UseError
from tui.actions import ACTIONS
from tui.settings import Settings, read_settings
from tui.settings_file import parse_settings


def test_without_a_file_every_action_keeps_its_own_keys(tmp_path: Path) -> None:
    settings = read_settings(tmp_path / "settings.yaml")
    assert settings == Settings()
    assert all(settings.keys_of(action.name) == action.keys for action in ACTIONS)


def test_no_key_does_two_things_as_the_program_comes() -> None:
    keys = [key for action in ACTIONS for key in action.keys]
    assert len(keys) == len(set(keys))


def test_keys_and_countdown_are_the_users_own() -> None:
    text = "countdown_s: 5\nkeys:\n  go: f5\n  walk_left: [left, f6]\n"
    settings = parse_settings(text, where="settings.yaml")
    assert settings.countdown_s == 5
    assert settings.keys_of("go") == ("f5",)
    assert settings.keys_of("walk_left") == ("left", "f6")
    assert settings.keys_of("stop") == ("s",)


def test_a_digit_is_a_key_too() -> None:
    assert parse_settings("keys: {go: 7, beside: f7}\n", where="x").keys_of("go") == ("7",)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("keys:\n  fly: f\n", "2", "there is no action 'fly'"),
        ("keys:\n  go: s\n", "2", "would do both go and stop"),
        ("keys:\n  go: q\n  quit: q\n", "3", "would do both"),
        ("keys:\n  go: []\n", "2", "needs one key"),
        ("keys: space\n", "1", "no list of actions"),
        ("countdown_s: 0\n", "1", "countdown_s"),
        ("colour: blue\n", "1", "colour"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_the_way_out(text: str, line: str, words: str) -> None:
    with pytest.raises(UseError) as told:
        parse_settings(text, where="settings.yaml")
    assert words in str(told.value)
    assert f"line {line}" in str(told.value) or f":{line}" in str(told.value)
