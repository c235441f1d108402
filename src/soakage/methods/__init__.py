"""Test methods: one file each, saying what it needs, its marks, its quantities and its chart."""

from __future__ import annotations

import sys
from functools import cache

from soakage.discovery import declared
from soakage.errors import UsageError
from soakage.methods.base import Method
from soakage.model.keys import Key


@cache
def methods() -> dict[str, Method]:
    """Return every test method by id: those of this folder and those of installed add-ons."""
    return declared(sys.modules[__name__], "METHOD", Method, "soakage.methods")


def method(method_id: str) -> Method:
    """Return one test method.

    Raises
    ------
    UsageError
        If no method has this id.
    """
    try:
        return methods()[method_id]
    except KeyError:
        raise UsageError(f"No method is called {method_id!r}. Known: {', '.join(methods())}.") from None


def words(key: Key) -> tuple[str, ...]:
    """Return the words a key of the record file takes; those of the method are the ids of all methods.

    Parameters
    ----------
    key : Key
        One key; not of a closed list, it has none.

    Returns
    -------
    tuple of str
    """
    return tuple(methods()) if key.name == "method" else key.words
