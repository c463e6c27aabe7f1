"""Every place on disk that belongs to the face; no other module joins these names."""

from __future__ import annotations

from pathlib import Path


def settings_yaml() -> Path:
    """Return the user's own settings: keys and countdown. It need not exist."""
    from platformdirs import user_config_path  # noqa: PLC0415 - only the screen needs it

    return user_config_path("secondpass") / "settings.yaml"
