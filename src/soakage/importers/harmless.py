"""Names of files out of what people typed: of every system, inside their folder, never too long."""

from __future__ import annotations

import re
import unicodedata

LONGEST = 60
_BYTES = 180  # of UTF-8; file systems take 255, an id and an ending come after it
_RESERVED = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9]|conin\$|conout\$)(?:\.|$)", re.IGNORECASE)
_KEPT = frozenset(" -_.,()+")


def harmless(text: str, otherwise: str = "unnamed") -> str:
    """Return a text as the name of a file or folder.

    Parameters
    ----------
    text : str
        Anything.
    otherwise : str
        Used where nothing of it can be.

    Returns
    -------
    str
        Letters, figures and a few marks; no separator, no dot or blank at either end, no name that a system
        reserves, at most 60 signs.
    """
    plain = unicodedata.normalize("NFC", text)
    spaced = " ".join(plain.split())
    kept = "".join(sign if sign.isalnum() or sign in _KEPT else "-" for sign in spaced)
    name = re.sub(r"-{2,}", "-", kept)[:LONGEST].strip(" .-")
    while len(name.encode()) > _BYTES:
        name = name[:-1].strip(" .-")
    if not name:
        return otherwise
    return f"_{name}" if _RESERVED.match(name) else name


class Names:
    """Names that were given, so that no two things get one that a system cannot tell apart."""

    def __init__(self) -> None:
        self._owners: dict[str, str] = {}

    def of(self, text: str, owner: str, otherwise: str = "unnamed") -> str:
        """Return the name for the thing with this id: always the same, and its own.

        Parameters
        ----------
        text : str
            What a person calls it.
        owner : str
            Its id, after a folder it stands in.
        otherwise : str
            Used where nothing of the text can be.
        """
        name = harmless(text, otherwise)
        if self._owners.setdefault(name.casefold(), owner) != owner:
            name = f"{name} {owner.rsplit('/', 1)[-1][:8]}"
            self._owners.setdefault(name.casefold(), owner)
        return name
