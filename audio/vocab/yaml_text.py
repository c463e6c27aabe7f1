"""Writing values so that the strict loader, and any other YAML reader, reads the same ones back."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence

from audio.vocab.strict_yaml import Scalar

BLOCK_STEP = 2
"""Spaces a level of block style is indented."""

_PLAIN = re.compile(r"[A-Za-z](?:[A-Za-z0-9./_() -]*[A-Za-z0-9/_)])?")
_WORDS = {"null", "true", "false", "yes", "no", "on", "off", "y", "n"}


def scalar(value: Scalar) -> str:
    """Return one value as YAML; text is quoted wherever some reader could take it for another kind."""
    if isinstance(value, str):
        if _PLAIN.fullmatch(value) and value.lower() not in _WORDS:
            return value
        return json.dumps(value, ensure_ascii=False)
    return json.dumps(value, allow_nan=False)


def flow(value: object) -> str:
    """Return scalars, lists and mappings as YAML on one line, in brackets."""
    if isinstance(value, Mapping):
        pairs = (f"{scalar(str(key))}: {flow(inner)}" for key, inner in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(flow(inner) for inner in value) + "]"
    if value is None or isinstance(value, (bool, int, float, str)):
        return scalar(value)
    raise TypeError(f"no YAML for {type(value).__name__}")


def block(fields: Mapping[str, object]) -> list[str]:
    """Return a mapping as YAML lines in block style; lists of mappings below it as well."""
    lines = []
    for key, value in fields.items():
        if isinstance(value, (list, tuple)) and value:
            lines.append(f"{scalar(key)}:")
            lines += [" " * BLOCK_STEP + line for item in value for line in block_item(item)]
        else:
            lines.append(f"{scalar(key)}: {flow(value)}")
    return lines


def block_item(fields: Mapping[str, object]) -> list[str]:
    """Return a mapping as an item of a block list: its first line behind a dash."""
    first, *rest = block(fields)
    return [f"- {first}", *(f"  {line}" for line in rest)]
