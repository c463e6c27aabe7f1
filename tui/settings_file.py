"""The user's settings as a file people write; every mistake reported with its line."""

from __future__ import annotations

from audio.vocab.characters import shown
from audio.vocab.form import Form
from audio.vocab.strict_yaml import Node, Problems, load
from tui.actions import ACTIONS, BY_NAME
from tui.settings import COUNTDOWN_S, Settings

_EXAMPLE = "countdown_s: 5"


def parse_settings(text: str, *, where: str) -> Settings:
    """Read settings from text; see `tui.settings.read_settings`."""
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
            problems.add(line, f"there is no action {shown(name)!r}; the actions are: {names}")
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
                text = f"the key {shown(key)!r} would do both {other} and {action.name}; choose another"
                problems.add(line, text)
