"""Writing values so that the strict loader, and any other YAML reader, reads the same ones back."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence

from audio.vocab.strict_yaml import Scalar

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
