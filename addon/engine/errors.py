"""The one exception raised for bad user input, and suggestions for unknown words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from .filled import Filled, filled

MAX_WORD_CHARS, MAX_LINE_CHARS = 240, 1200  # longer words and lines, usually names, are shortened in the middle
MAX_COMPARED_CHARS = 80  # a longer word is not a misspelled key


class InputError(Exception):
    """Bad input, reported in one line: which file, object or key, what is wrong, and the remedy.

    The command line prints it and exits with 2; an operator reports it and changes nothing. Whatever names it holds,
    the sentence is one printable line: see `one_line`.
    """

    def __init__(self, sentence: str) -> None:
        super().__init__(one_line(sentence))

    def __str__(self) -> str:
        """The sentence, with what it was made of, for another language."""
        sentence: str = self.args[0]
        return sentence


def one_line(sentence: str) -> str:
    """The sentence with what is not printable escaped (a line break as \\n), very long words cut in their middle.

    A text that was filled stays one, unless its length alone had to be cut.
    """
    plain = _one_line(sentence)
    if plain == sentence:
        return sentence
    if isinstance(sentence, Filled):
        shortened = filled(sentence.template, **{name: one_line(value) for name, value in sentence.values.items()})
        return shortened if shortened == plain else plain
    return plain


def _one_line(sentence: str) -> str:
    plain = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in sentence)
    if len(plain) > MAX_WORD_CHARS:
        plain = " ".join(_shortened(word, MAX_WORD_CHARS) for word in plain.split(" "))
    return _shortened(plain, MAX_LINE_CHARS)


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most // 2]}...{text[-(most // 2 - 3) :]}"


def nearest(word: str, known: Iterable[str]) -> str:
    """A question with the nearest known word, or the list of those that are known."""
    known = list(known)
    lower = {name.lower(): name for name in known}
    likely = word.lower() if len(word) <= MAX_COMPARED_CHARS else ""
    close = difflib.get_close_matches(likely, lower, n=1, cutoff=0.5)
    if close:
        return filled("did you mean '{name}'?", name=lower[close[0]])
    return filled("known: {label}", label=", ".join(known))
