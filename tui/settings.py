"""The user's own settings: how long the countdown is, and which key does what.

.. code-block:: yaml

    countdown_s: 5
    keys:
      go: f5
      walk_left: [left, a]
"""

from __future__ import annotations

from pathlib import Path

import msgspec

from tui.actions import BY_NAME

COUNTDOWN_S = (3, 10)
"""Range of the countdown, seconds: someone may stand at the speaker."""


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """What the user may set."""

    countdown_s: int = COUNTDOWN_S[0]
    keys: dict[str, tuple[str, ...]] = {}
    """Action name to its keys; an action that is not named keeps its own."""

    def keys_of(self, action: str) -> tuple[str, ...]:
        """Return the keys of an action."""
        return self.keys.get(action, BY_NAME[action].keys)


def read_settings(path: Path) -> Settings:
    """Read the user's settings; the defaults where there is no file.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    Settings
        Its content.

    Raises
    ------
    UseError
        If anything in it is wrong, with the line of each mistake.
    """
    if not path.exists():
        return Settings()
    from audio.vocab.strict_yaml import read_text  # noqa: PLC0415 - YAML, which most never need
    from tui.settings_file import parse_settings  # noqa: PLC0415 - the same

    return parse_settings(read_text(path), where=str(path))
