"""Files every page loads: ours, the typeface and the chart library, under an address with their hash."""

from __future__ import annotations

import gzip
import hashlib
import mimetypes
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from soakage.report import typeface
from soakage.web.font_subset import subset
from soakage.web.house import house

ROUTER = APIRouter()
FOLDER = Path(__file__).parent / "static"
FACES = {"400": "Regular", "500": "Medium", "600": "SemiBold", "700": "Bold"}
LIBRARY = "vega.js"
_KEPT = "public, max-age=31536000, immutable"
_WORTH = 600  # bytes: below this, packing makes nothing smaller


@dataclass(frozen=True, slots=True)
class Static:
    """One file: what it is, plain and packed."""

    media: str
    plain: bytes
    packed: bytes | None


@cache
def digest() -> str:
    """Return a hash of all files and of the versions that others are made from."""
    made = hashlib.sha256()
    for file in _ours():
        made.update(file.name.encode() + b"\0" + file.read_bytes())
    for part in ("font_subset.py", "statics.py"):
        made.update((Path(__file__).parent / part).read_bytes())
    for package in ("fontpkg-fira-sans", "vl-convert-python"):
        made.update(version(package).encode())
    return made.hexdigest()[:16]


def address(name: str) -> str:
    """Return the address of a file; it changes when any file does.

    Parameters
    ----------
    name : str
        Name in the folder of static files, ``fonts/400.ttf`` or ``vega.js``.
    """
    return f"/static/{digest()}/{name}"


@ROUTER.get("/static/{of}/{name:path}", include_in_schema=False)
def static(request: Request, of: str, name: str) -> Response:
    """Serve a file; the browser keeps it for good."""
    file = _file(name, house(request).settings.cache) if of == digest() else None
    if file is None:
        raise HTTPException(404)
    headers = {"Cache-Control": _KEPT, "Vary": "Accept-Encoding"}
    if file.packed is not None and "gzip" in request.headers.get("accept-encoding", ""):
        return Response(file.packed, media_type=file.media, headers={**headers, "Content-Encoding": "gzip"})
    return Response(file.plain, media_type=file.media, headers=headers)


@ROUTER.get("/favicon.ico", include_in_schema=False)
def icon(request: Request) -> Response:
    """Serve the mark that a browser shows beside the title."""
    return static(request, digest(), "icon.svg")


@cache
def _file(name: str, kept: Path | None) -> Static | None:
    if name == LIBRARY:
        content = _library(kept)
    elif name.startswith("fonts/") and name.removeprefix("fonts/").removesuffix(".ttf") in FACES:
        content = face(name.removeprefix("fonts/").removesuffix(".ttf"))
    elif name in {file.name for file in _ours()}:
        content = (FOLDER / name).read_bytes()
    else:
        return None
    media = mimetypes.guess_type(name)[0] or "application/octet-stream"
    packed = gzip.compress(content, mtime=0) if len(content) > _WORTH else None
    return Static(media, content, packed)


@cache
def face(weight: str) -> bytes:
    """Return the typeface at a weight, with the characters that pages use.

    Parameters
    ----------
    weight : str
        One of :data:`FACES`.
    """
    return subset((typeface.folder() / f"FiraSans-{FACES[weight]}.ttf").read_bytes())


def _library(kept: Path | None) -> bytes:
    """Return the chart library; making it takes a second, so it is kept in the cache."""
    import vl_convert

    place = kept / f"vega-{version('vl-convert-python')}.js" if kept else None
    if place is not None and place.is_file():
        return place.read_bytes()
    # In a function of its own: the bundle's short names would be everybody's.
    bundle = vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;")
    content = f"(function () {{\n{bundle}\n}})();\n".encode()
    if place is not None:
        place.parent.mkdir(parents=True, exist_ok=True)
        part = place.with_suffix(".part")
        part.write_bytes(content)
        part.replace(place)
    return content


@cache
def _ours() -> tuple[Path, ...]:
    return tuple(sorted(file for file in FOLDER.iterdir() if file.is_file()))
