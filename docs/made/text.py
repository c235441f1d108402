"""Markdown, written so that no figure or id is taken for markup."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from soakage.standards.criterion import VERIFIED_TEXT, Verified

_MARKUP = re.compile(r"([\\`*_\[\]<>|$#{}~^])")


def plain(text: object) -> str:
    """Return text as it is to be read, its signs of markup escaped, on one line."""
    return _MARKUP.sub(r"\\\1", " ".join(str(text).split(" ")).replace("\n", " "))


def code(text: object) -> str:
    """Return text as an id, a key or a formula; nothing where there is nothing."""
    whole = " ".join(str(text).split())
    fence = "``" if "`" in whole else "`"
    return f"{fence}{whole}{fence}".replace("|", "\\|") if whole else ""


def ids(names: Iterable[object]) -> str:
    """Return names as a list of ids in a line."""
    return ", ".join(code(name) for name in names)


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table; cells are markdown already.

    Parameters
    ----------
    headings : sequence of str
        One a column.
    rows : iterable of sequence of str
        Cells in the order of the headings.

    Returns
    -------
    str
        Markdown with an empty line at its end.
    """
    lines = [headings, ["---"] * len(headings), *rows]
    return "".join(f"| {' | '.join(cell or ' ' for cell in line)} |\n" for line in lines) + "\n"


def facts(pairs: Iterable[tuple[str, str]]) -> str:
    """Return what is known of one thing, as a list of names and texts; empty texts are left out."""
    return "".join(f"- **{plain(name)}**: {text}\n" for name, text in pairs if text) + "\n"


def target(name: str) -> str:
    """Return a mark that a link by this id finds: ``[text](#id)``."""
    return f"({name})=\n"


def link(name: str, text: str = "") -> str:
    """Return a link to the place of an id."""
    return f"[{text or code(name)}](#{name})"


def proof(verified: str) -> str:
    """Return how something was verified, in the words reports print."""
    words = VERIFIED_TEXT[Verified(verified)] or "Read in the source itself."
    return f"{code(verified)}: {words}"


def page(title: str, *parts: str) -> str:
    """Return a page."""
    return f"# {title}\n\n" + "".join(parts).rstrip("\n") + "\n"
