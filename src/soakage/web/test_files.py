"""Files of a test: the one it came in, attachments, reports; each with headers that let nothing run."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import quote

from fastapi import HTTPException
from fastapi.responses import Response

from soakage.app.differences import alike
from soakage.app.judge_kept import Judged
from soakage.store.memory import StoreMemory
from soakage.web.test_view import title
from soakage.web.test_view_charts import evaluated, kept_test
from soakage.wiring import report_writer

Row = Mapping[str, Any]
# What a browser may show as a picture, by how such a file begins: its name or stated type proves nothing.
_PICTURES = {
    b"\xff\xd8\xff": "image/jpeg", b"\x89PNG\r\n\x1a\n": "image/png", b"GIF87a": "image/gif", b"GIF89a": "image/gif",
}  # fmt: skip
_SEALED = "default-src 'none'; sandbox"
_REPORTS = {
    "pdf": "application/pdf",
    "html": "text/html; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
ENDINGS = tuple(_REPORTS)


def picture_type(content: bytes) -> str:
    """Return the media type of a picture a page may show; empty for anything else."""
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return next((kind for start, kind in _PICTURES.items() if content.startswith(start)), "")


def sent(
    content: bytes, name: str, *, shown: bool = False, media_type: str = "application/octet-stream"
) -> Response:
    """Return a file to be saved; a picture may be shown where that is asked.

    Parameters
    ----------
    content : bytes
        The file.
    name : str
        Its name.
    shown : bool
        Whether a picture is to be shown in its place.
    media_type : str
        Of a file that Soakage made itself; all others are bytes.
    """
    picture = picture_type(content) if shown else ""
    headers = {
        "Content-Disposition": f"{'inline' if picture else 'attachment'}; {_named(name)}",
        "Content-Security-Policy": _SEALED,
    }
    return Response(content, media_type=picture or media_type, headers=headers)


def _named(name: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9._ -]", "_", name) or "file"
    return f"filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"


def original(memory: StoreMemory, page: Row) -> Response:
    """Return the file a test came in, as it was.

    Raises
    ------
    HTTPException
        404 where it was not kept.
    """
    origin = page["origin"]
    if not origin["kept"]:
        raise HTTPException(404, "The file this test came in is not kept in the store.")
    name = PurePosixPath(str(origin["file"]).replace("\\", "/")).name or "record.csv"
    return sent(memory.blob(origin["sha256"]), name)


def attachment(memory: StoreMemory, page: Row, sha256: str) -> Response:
    """Return a file that was added to a test; a picture is shown.

    Raises
    ------
    HTTPException
        404 where the test has none with this hash.
    """
    kept = next((one for one in page["attachments"] if one.get("sha256") == sha256), None)
    if kept is None:
        raise HTTPException(404, "This test has no such attachment.")
    return sent(memory.blob(sha256), str(kept["name"]), shown=True)


def _says_the_same(memory: StoreMemory, judged: Judged) -> bool:
    """Return whether a test judged now has the status, limits and figures of the verdict that stands.

    What the register has learnt since and says beside them, and other words for the same, make no other report.
    """
    if not judged.news:
        return True
    if judged.test.result is None:
        return False
    before, now = json.loads(memory.blob(judged.test.result)), json.loads(judged.result)
    return alike(_decisive(before), _decisive(now))


def _decisive(result: Row) -> Row:
    """Return what a result decides by, less its wording: statuses, limits, figures."""
    of_judgement = ("status", "quantity", "value", "decides", "source")
    of_quantity = ("value", "unit", "bound", "uncertainty", "rule", "base_temperature")
    return {
        "status": result["verdict"]["status"],
        "judgements": {
            one["criterion"]: [one[name] for name in of_judgement]
            + [(one["limit"] or {}).get(end) for end in ("lower", "upper")]
            for one in result["judgements"]
        },
        "quantities": {
            name: [one.get(part) for part in of_quantity] for name, one in result["quantities"].items()
        },
    }


def report(memory: StoreMemory, page: Row, ending: str, paper: str, *, whole: bool) -> Response:
    """Return the report of a test, or of its whole visit.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    page : mapping
        From :func:`soakage.web.test_view.found_page`.
    ending : str
        pdf, html or xlsx.
    paper : str
        a4 or letter.
    whole : bool
        Whether the other tests of the visit are in it.

    Raises
    ------
    HTTPException
        409 for a test that is withdrawn, or whose verdict would be another one by the rules as they are now: a
        report never says something else than the page.
    """
    known = kept_test(memory, page["test"]["id"])
    if known.withdrawn:
        raise HTTPException(
            409, "This test is withdrawn: no report is made of it. Take the withdrawal back first."
        )
    evaluation, judged = evaluated(memory, known)
    if not all(_says_the_same(memory, one) for one in (judged if whole else judged[:1])):
        raise HTTPException(
            409,
            "By the rules and the register as they are now the result is another one. Judge it again on its page, "
            "then report.",
        )
    if not whole:
        evaluation = replace(evaluation, records=(judged[0].evaluated,), visits=(), networks=(), dry_out=())
    content = report_writer(Path(f"report.{ending}"), paper)(evaluation)
    name = re.sub(r"[^\w-]+", "-", f"{title(page)} {page['test']['day'] or ''}").strip("-")
    return sent(content, f"{name}.{ending}", media_type=_REPORTS[ending])
