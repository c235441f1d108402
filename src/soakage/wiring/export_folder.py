"""A folder that is exported to: each file whole or not at all, and at the end a list of them with their hashes."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from hashlib import file_digest, sha256
from pathlib import Path
from typing import Any

from soakage import __version__
from soakage.errors import UsageError

MANIFEST = "export.json"
MARK = "soakage-export"
VERSION = 1


class ExportFolder:
    """An empty folder to be filled.

    Parameters
    ----------
    root : Path
        Made where it is not there.

    Raises
    ------
    UsageError
        If it holds anything, or cannot be made.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.files: list[dict[str, Any]] = []
        try:
            root.mkdir(parents=True, exist_ok=True)
            if any(root.iterdir()):
                raise UsageError(
                    f"{root}: the folder is not empty. Choose a new one, so that nothing is written over."
                )
        except OSError as problem:
            raise self._failed(root, problem) from None

    def write(self, path: str, content: bytes) -> None:
        """Write one file, by its path inside the folder."""
        place = self.place(path)
        part = place.with_name(f".{place.name}.part")
        try:
            part.write_bytes(content)
            part.replace(place)
        except OSError as problem:
            part.unlink(missing_ok=True)
            raise self._failed(place, problem) from None
        self._note(path, sha256(content).hexdigest(), len(content))

    @contextmanager
    def lines(self, path: str) -> Iterator[Callable[[Mapping[str, Any]], None]]:
        """Give a function that adds an object to a file of JSON lines."""
        place = self.place(path)
        part = place.with_name(f".{place.name}.part")
        hashed, size = sha256(), 0
        try:
            with part.open("wb") as file:

                def add(value: Mapping[str, Any]) -> None:
                    nonlocal size
                    line = json.dumps(value, ensure_ascii=False, allow_nan=False).encode() + b"\n"
                    file.write(line)
                    hashed.update(line)
                    size += len(line)

                yield add
            part.replace(place)
        except OSError as problem:
            raise self._failed(place, problem) from None
        finally:
            part.unlink(missing_ok=True)
        self._note(path, hashed.hexdigest(), size)

    def place(self, path: str) -> Path:
        """Return where a file of this path belongs; its folder is made."""
        place = self.root / path
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise self._failed(place.parent, problem) from None
        return place

    def written(self, path: str) -> None:
        """Note a file that something else wrote here."""
        with (self.root / path).open("rb") as file:
            found = file_digest(file, "sha256").hexdigest()
        self._note(path, found, (self.root / path).stat().st_size)

    def finish(self, about: Mapping[str, Any]) -> None:
        """Write the list of all files, once all of them are on the disk: only with it the export is whole."""
        if hasattr(os, "sync"):
            os.sync()
        listed = {MARK: VERSION, "soakage": __version__, **about, "files": self.files}
        self.write(MANIFEST, json.dumps(listed, ensure_ascii=False, indent=1).encode() + b"\n")

    def _note(self, path: str, found: str, size: int) -> None:
        self.files.append({"path": path, "sha256": found, "size": size})

    @staticmethod
    def _failed(place: Path, problem: OSError) -> UsageError:
        return UsageError(
            f"{place}: {problem.strerror or problem}. The export is not whole: it has no {MANIFEST}. Choose a "
            "folder that can be written, with room."
        )
