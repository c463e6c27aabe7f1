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

from audio.vocab.form import Form
from audio.vocab.strict_yaml import Node, Problems, load, read_text
from tui.actions import ACTIONS, BY_NAME

COUNTDOWN_S = (3, 10)
"""Range of the countdown, seconds: someone may stand at the speaker."""

_EXAMPLE = "countdown_s: 5"


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
    return parse_settings(read_text(path), where=str(path))


def parse_settings(text: str, *, where: str) -> Settings:
    """Read settings from text; see `read_settings`."""
    if not text.strip():
        return Settings()
    problems = Problems(where)
    root = load(text, problems=problems)
    form = Form(root, problems=problems, what="", keys=("countdown_s", "keys"), example=_EXAMPLE)
    low, high = COUNTDOWN_S
    countdown = form.whole("countdown_s", low=low, high=high, default=low)
    keys = _keys(root, problems)
    problems.check()
    return Settings(countdown_s=countdown, keys=keys)


def _keys(root: Node, problems: Problems) -> dict[str, tuple[str, ...]]:
    listed = root.value.get("keys") if isinstance(root.value, dict) else None
    if listed is None:
        return {}
    if not isinstance(listed.value, dict):
        problems.add(listed.line, "keys is no list of actions; write keys: {go: f5}")
        return {}
    found: dict[str, tuple[str, ...]] = {}
    for name, node in listed.value.items():
        line = listed.key_lines.get(name, node.line)
        if name not in BY_NAME:
            names = ", ".join(action.name for action in ACTIONS)
            problems.add(line, f"there is no action {name!r}; the actions are: {names}")
            continue
        keys = _key_names(node)
        if not keys:
            problems.add(line, f"{name} needs one key or a list of keys, such as {name}: f5")
            continue
        found[name] = keys
    _refuse_twice(found, listed, problems)
    return found


def _key_names(node: Node) -> tuple[str, ...]:
    nodes = node.value if isinstance(node.value, tuple) else (node,)
    values = [one.value for one in nodes]
    texts = [str(v) if isinstance(v, int) and not isinstance(v, bool) else v for v in values]
    good = [t for t in texts if isinstance(t, str) and t.strip() and t.isprintable()]
    return tuple(good) if len(good) == len(texts) else ()


def _refuse_twice(found: dict[str, tuple[str, ...]], listed: Node, problems: Problems) -> None:
    """Refuse a key that would do two things: the user's own and those that stay as they were."""
    taken: dict[str, str] = {}
    for action in ACTIONS:
        for key in found.get(action.name, action.keys):
            other = taken.setdefault(key, action.name)
            if other != action.name:
                line = listed.key_lines.get(action.name, listed.key_lines.get(other, listed.line))
                text = f"the key {key!r} would do both {other} and {action.name}; choose another"
                problems.add(line, text)
