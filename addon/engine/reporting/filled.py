"""Re-exports `engine.filled`, a base module because errors are raised with its texts."""

from __future__ import annotations

from ..filled import (
    Filled,
    Joined,
    Keyed,
    SettingKey,
    Shaped,
    capital,
    filled,
    joined,
    keyed,
    put_in,
    sentence,
    setting,
    unstopped,
)

__all__ = [
    "Filled",
    "Joined",
    "Keyed",
    "SettingKey",
    "Shaped",
    "capital",
    "filled",
    "joined",
    "keyed",
    "put_in",
    "sentence",
    "setting",
    "unstopped",
]
