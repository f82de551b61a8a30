"""The one exception that a user's input can raise, and what to say of a word that is not known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class InputError(Exception):
    """Bad input, said in one line: which file, object or key, what is wrong, and the remedy.

    The command line prints it and exits with 2; an operator reports it and changes nothing.
    """


def nearest(word: str, known: Iterable[str]) -> str:
    """A question with the nearest known word, or the list of those that are known."""
    known = list(known)
    lower = {name.lower(): name for name in known}
    close = difflib.get_close_matches(word.lower(), lower, n=1, cutoff=0.5)
    return f"did you mean '{lower[close[0]]}'?" if close else f"known: {', '.join(known)}"
