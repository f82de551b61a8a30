"""The one exception that a user's input can raise."""

from __future__ import annotations


class Fault(Exception):  # noqa: N818 - it is the user's input that is at fault, not the program
    """Bad input, said in one line: which file, object or key, what is wrong, and the remedy.

    The command line prints it and exits with 2; an operator reports it and changes nothing.
    """
