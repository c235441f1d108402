"""Values of the header, as typed or as a spreadsheet left them: texts, lists, tables in braces."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

Value = str | list["Value"] | dict[str, "Value"]

_DEEPEST = 6
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}
_ESCAPE = re.compile(r"\\(u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}|.)", re.DOTALL)
_QUOTED = re.compile(r'"((?:[^"\\]++|\\.)*+)"|\'([^\']*+)\'', re.DOTALL)
_BARE = re.compile(r"[^,;\[\]{}=\"']++")
_SPACE = re.compile(r"[ \t\n\u00a0]*+")


@lru_cache(maxsize=1024)
def plain_key(text: str) -> str:
    """Return a key as the table of keys spells it: lower case, words joined by underscores."""
    return "_".join(text.replace("-", " ").replace("_", " ").split()).lower()


@lru_cache(maxsize=4096)  # headers of a thousand files repeat themselves
def unquoted(text: str) -> str:
    """Return text without its quotes and escapes; text that is not one quoted string stays as it is.

    Raises
    ------
    ValueError
        If an escape is none of TOML's.
    """
    text = text.strip()
    match = _QUOTED.fullmatch(text)
    if match is None:
        return text
    return match[2] if match[1] is None else _ESCAPE.sub(_unescape, match[1])


def _unescape(match: re.Match[str]) -> str:
    mark = match[1]
    if len(mark) > 1:
        code = int(mark[1:], 16)
        if code > 0x10FFFF or 0xD800 <= code <= 0xDFFF:
            raise ValueError(f"\\{mark} is no character")
        return chr(code)
    if mark not in _ESCAPES:
        raise ValueError(f"\\{mark} is no escape of a quoted text; a backslash is written \\\\")
    return _ESCAPES[mark]


def quoted(text: str) -> str:
    """Return text as a quoted string that :func:`unquoted` reads to the same."""
    letters = []
    named = {value: f"\\{mark}" for mark, value in _ESCAPES.items()}
    for letter in text:
        if letter in named:
            letters.append(named[letter])
        elif letter.isprintable():
            letters.append(letter)
        else:
            letters.append(f"\\U{ord(letter):08x}")
    return '"' + "".join(letters) + '"'


def read_value(text: str) -> Value:
    """Read a list in brackets or a table in braces; anything else is one text.

    Quotes inside may be missing, as spreadsheets drop them.

    Parameters
    ----------
    text : str
        The value as it stands in the header.

    Returns
    -------
    str, list or dict
        Leaves are texts without their quotes.

    Raises
    ------
    ValueError
        If a bracket is not closed or something stands behind it.
    """
    text = text.strip()
    if text[:1] not in ("[", "{"):
        return unquoted(text)
    value, end = _read(text, 0, 0)
    if text[end:].strip():
        raise ValueError(f"something stands behind the closing bracket: {text[end:].strip()[:40]}")
    return value


def _skip(text: str, at: int) -> int:
    match = _SPACE.match(text, at)
    return match.end() if match else at


def _read(text: str, at: int, depth: int) -> tuple[Value, int]:
    if depth > _DEEPEST:
        raise ValueError("brackets are nested too deep")
    at = _skip(text, at)
    opening = text[at : at + 1]
    if opening == "[":
        return _read_list(text, at + 1, depth)
    if opening == "{":
        return _read_table(text, at + 1, depth)
    return _read_text(text, at)


def _read_text(text: str, at: int) -> tuple[str, int]:
    if match := _QUOTED.match(text, at):
        return unquoted(match[0]), match.end()
    if match := _BARE.match(text, at):
        return match[0].strip(), match.end()
    raise ValueError(f"a value is missing before {text[at : at + 20] or 'the end'!r}")


def _read_list(text: str, at: int, depth: int) -> tuple[list[Value], int]:
    values: list[Value] = []
    while True:
        at = _skip(text, at)
        if text[at : at + 1] == "]":
            return values, at + 1
        value, at = _read(text, at, depth + 1)
        values.append(value)
        at = _separator(text, at, "]")


def _read_table(text: str, at: int, depth: int) -> tuple[dict[str, Value], int]:
    values: dict[str, Value] = {}
    while True:
        at = _skip(text, at)
        if text[at : at + 1] == "}":
            return values, at + 1
        key, at = _read_text(text, at)
        at = _skip(text, at)
        if text[at : at + 1] != "=":
            raise ValueError(f"'=' is missing after {key}")
        if key in values:
            raise ValueError(f"{key} is there twice")
        values[key], at = _read(text, at + 1, depth + 1)
        at = _separator(text, at, "}")


def _separator(text: str, at: int, closing: str) -> int:
    at = _skip(text, at)
    if text[at : at + 1] in (",", ";"):
        return at + 1
    if text[at : at + 1] != closing:
        raise ValueError(f"{closing} is missing before {text[at : at + 20] or 'the end'!r}")
    return at


def split_list(text: str) -> list[str]:
    """Return the items of a list typed without brackets: at commas, semicolons or tabs, quotes dropped."""
    items: list[str] = []
    at = 0
    while at < len(text):
        at = _skip(text, at)
        match = _QUOTED.match(text, at)
        rest = _skip(text, match.end()) if match else at
        if match and text[rest : rest + 1] in ("", ",", ";"):
            items.append(unquoted(match[0]))
            at = rest + 1
            continue
        end = min((i for i in (text.find(mark, at) for mark in ",;\t") if i >= 0), default=len(text))
        items.append(text[at:end].strip())
        at = end + 1
    return [item for item in items if item]


def names(value: Sequence[Value]) -> tuple[str, ...]:
    """Return a list's texts; a list or table inside it is an error.

    Raises
    ------
    ValueError
        If an item is no text.
    """
    if not all(isinstance(item, str) for item in value):
        raise ValueError("a list of names holds another list or table")
    return tuple(item.strip() for item in value if isinstance(item, str) and item.strip())
