"""From bytes to text: encodings told apart, and what is no text refused."""

from __future__ import annotations

import re

from soakage.errors import Fault, InputError
from soakage.importers.base import shown

LARGEST = 64 * 2**20
MOST_ROWS = 2_000_000

_CONTROL = bytes(range(9)) + bytes(range(14, 32)) + b"\x7f"
_CONTROL_TEXT = re.compile("[\x00-\x08\x0e-\x1f\x7f]")
_UTF8_PAIR = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
_SAVE = "Save it as CSV in UTF-8 and read it again."
_TEXT = "text in UTF-8, UTF-16 or cp1252"


def refuse(file: str, row: int | None, given: str, problem: str, allowed: str, remedy: str) -> InputError:
    """Return the error of a file that cannot be read at all."""
    return InputError([Fault(file, row, "", shown(given), problem, allowed, remedy)])


def _utf16(data: bytes) -> str | None:
    """Return the byte order of UTF-16 text, by its mark or by zeros in every second byte of its beginning."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    head = data[:64]
    low, high = head[0::2], head[1::2]
    if len(head) >= 4 and high.count(0) > 0.9 * len(high) and low.count(0) == 0:
        return "utf-16-le"
    if len(head) >= 4 and low.count(0) > 0.9 * len(low) and high.count(0) == 0:
        return "utf-16-be"
    return None


def decode(data: bytes, file: str) -> str:
    """Return the text of a file, lines ended by a bare line feed.

    A mark at the start decides; then strict UTF-8 is tried, then cp1252. Bytes that are partly
    UTF-8 and partly not are refused: read either way some sign would silently become another.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Its name, for messages.

    Returns
    -------
    str
        The text without byte order mark.

    Raises
    ------
    InputError
        If it is empty, too large, binary, cut short or of mixed encodings.
    """
    if len(data) > LARGEST:
        raise refuse(
            file,
            None,
            f"{len(data) / 2**20:.0f} MiB",
            "The file is too large.",
            f"at most {LARGEST // 2**20} MiB",
            "Split it into one file per test.",
        )
    order = _utf16(data)
    if order:
        try:
            text = data.decode(order)
        except UnicodeDecodeError:
            raise refuse(
                file,
                None,
                "UTF-16 with bytes missing",
                "The text is cut short or damaged.",
                _TEXT,
                "Copy it again.",
            ) from None
        if _CONTROL_TEXT.search(text):
            raise _binary(file)
    else:
        if len(data.translate(None, _CONTROL)) != len(data):
            raise _binary(file)
        text = _eight_bit(data, file)
    text = text.removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}")
    if not text.strip():
        raise refuse(
            file, None, f"{len(data)} bytes", "The file is empty.", "a record", "Check that it was saved."
        )
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if text.count("\n") > MOST_ROWS:
        raise refuse(
            file,
            None,
            f"{text.count(chr(10))} lines",
            "The file has too many rows.",
            f"at most {MOST_ROWS} rows",
            "Split it into one file per test.",
        )
    return text


def _eight_bit(data: bytes, file: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        byte = f"byte {data[error.start]:#04x}"
        if _UTF8_PAIR.search(data):
            raise refuse(
                file,
                row,
                byte,
                "The file mixes encodings: part of it is UTF-8, this line is not.",
                _TEXT,
                _SAVE,
            ) from None
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        raise refuse(
            file, row, f"byte {data[error.start]:#04x}",
            "The encoding cannot be told; tried UTF-8, UTF-16 and cp1252.", _TEXT, _SAVE,
        ) from None  # fmt: skip


def _binary(file: str) -> InputError:
    return refuse(
        file,
        None,
        "control bytes",
        "This is no text: the file is binary or damaged.",
        _TEXT,
        "Give a record file, a CSV or an XLSX workbook.",
    )
