"""Content and a layout in, PDF out: the same bytes for the same content, wherever it is made."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soakage.errors import UsageError
from soakage.report import typeface

if TYPE_CHECKING:
    import typst

PAPERS = {"a4": "a4", "letter": "us-letter", "us-letter": "us-letter"}
_LAYOUTS = Path(__file__).parent / "typ"


def paper_name(paper: str) -> str:
    """Return the paper as typst calls it.

    Raises
    ------
    UsageError
        If it is not a4 or letter.
    """
    try:
        return PAPERS[paper.lower()]
    except KeyError:
        raise UsageError(f"Unknown paper. Given: {paper}. Allowed: a4, letter.") from None


def typeset(
    layout: str,
    content: Mapping[str, Any],
    *,
    made: date | None = None,
    drawings: Mapping[str, str] | None = None,
) -> bytes:
    """Return a PDF/A-2b.

    Parameters
    ----------
    layout : str
        Name of a file in ``typ``, without its ending; it reads ``sys.inputs.data`` as JSON.
    content : mapping
        Plain JSON-able content. User text travels only here, as data. Where a character had to be written
        out, the layout finds the words for it in ``data.glyph_note``.
    made : date or datetime or None
        The time the file carries; without it 1 January 1970. No clock is read, so the bytes repeat.
    drawings : mapping of str to str
        SVG by name; the layout reads them as ``sys.inputs``.

    Returns
    -------
    bytes
        The PDF.
    """
    import typst

    files, inputs = _job(layout, content, drawings or {})
    # A mapping of names to files is taken as well; the stubs do not say so.
    pdf = typst.compile(
        files,  # type: ignore[call-overload]
        font_paths=_fonts(),
        sys_inputs=inputs,
        format="pdf",
        pdf_standards=["a-2b"],
        timestamp=_seconds(made),
    )
    return bytes(pdf)


def ask(layout: str, content: Mapping[str, Any], selector: str) -> list[dict[str, Any]]:
    """Return what a layout notes about its own pages.

    Parameters
    ----------
    layout : str
        As in :func:`typeset`.
    content : mapping
        Plain JSON-able content.
    selector : str
        Label of its metadata.

    Returns
    -------
    list of dict
        Their values in the order of the pages.
    """
    import typst

    files, inputs = _job(layout, content, {})
    said = typst.query(  # type: ignore[type-var]
        files,
        selector,
        field="value",
        font_paths=_fonts(),
        sys_inputs=inputs,
    )
    return list(json.loads(said))


def _job(
    layout: str, content: Mapping[str, Any], drawings: Mapping[str, str]
) -> tuple[dict[str, bytes], dict[str, str]]:
    """Return files and inputs of a layout."""
    shown, written_out = typeface.visible(content)
    data = dict(shown) if isinstance(shown, dict) else {}
    data["glyph_note"] = typeface.NOTE if written_out else ""
    files = {
        "lib.typ": (_LAYOUTS / "lib.typ").read_bytes(),
        "main.typ": (_LAYOUTS / f"{layout}.typ").read_bytes(),
    }
    inputs = {"data": json.dumps(data, ensure_ascii=False)}
    return files, inputs | {f"svg-{name}": svg for name, svg in drawings.items()}


@cache
def _fonts() -> typst.Fonts:
    import typst

    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(typeface.folder())]
    )


def _seconds(made: date | None) -> int:
    if made is None:
        return 0
    if not isinstance(made, datetime):
        made = datetime(made.year, made.month, made.day, tzinfo=UTC)
    return max(0, int((made if made.tzinfo else made.replace(tzinfo=UTC)).timestamp()))
