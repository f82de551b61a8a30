"""The texts of `engine.filled`, which stands on the ground floor for the errors that are raised there."""

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
