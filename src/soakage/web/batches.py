"""Files that were brought and are not taken in yet: kept under names of our own in a passing folder, for a while."""

from __future__ import annotations

import shutil
import tempfile
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import IO, Any

from soakage.app.intake import Intake
from soakage.errors import Fault
from soakage.importers.recipe import ColumnNote, Question, Recipe
from soakage.importers.recipe_file import recipe_text
from soakage.web.sessions import new_id
from soakage.wiring.apart import Apart, Limits
from soakage.wiring.uploads import Looked

MOST_FILES = 500
_MOST = 20  # batches of one server
_LONGEST_NAME = 120
_PIECE = 1 << 20
TRYING = Limits(seconds=20.0)  # what a page waits for


def name_of(given: str | None, otherwise: str = "file") -> str:
    """Return what a browser calls a file: no folder, no sign that cannot be shown; never opened as a path."""
    plain = (given or "").replace("\\", "/").rpartition("/")[2]
    return "".join(sign for sign in plain if sign.isprintable()).strip()[:_LONGEST_NAME] or otherwise


@dataclass(slots=True)
class Brought:
    """One file of a batch.

    Parameters
    ----------
    number : int
        From 1, in the order they came.
    name : str
        What it was called.
    path : Path
        Where its bytes are.
    size : int
        How many.
    looked : Looked or None
        What it is; None until it was looked at.
    trouble : str
        Why it could not be looked at: the process that read it was lost.
    """

    number: int
    name: str
    path: Path
    size: int
    looked: Looked | None = None
    trouble: str = ""

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What is wrong with it."""
        if self.trouble:
            return (lost(self.name, self.trouble),)
        return self.looked.faults if self.looked else ()


def lost(name: str, trouble: str) -> Fault:
    """Return the fault of a file whose reading was lost."""
    return Fault(name, None, "", "", trouble, "a file that can be read", "Save it anew, or split it.")


@dataclass(slots=True)
class Table:
    """Files of one batch that have the same columns, and the recipe that reads them.

    Parameters
    ----------
    files : list of Brought
        At least one; the first is shown.
    recipe : Recipe
        As it stands.
    notes : tuple of ColumnNote
        What was thought of each column.
    remarks : tuple of str
        What was noticed.
    questions : tuple of Question
        What is open.
    kept : str
        Name the recipe is kept under; empty where it is not kept as it stands.
    tried : dict or None
        What it makes of the first file, of the recipe as it stands.
    """

    files: list[Brought]
    recipe: Recipe
    notes: tuple[ColumnNote, ...]
    remarks: tuple[str, ...]
    questions: tuple[Question, ...]
    kept: str = ""
    tried: dict[str, Any] | None = None

    @property
    def number(self) -> int:
        """Number of its first file."""
        return self.files[0].number

    @property
    def open(self) -> tuple[Question, ...]:
        """Questions without whose answer nothing is read."""
        return tuple(question for question in self.questions if question.required)

    @property
    def rows(self) -> tuple[tuple[int, tuple[str, ...]], ...]:
        """First lines of the first file, as they stand."""
        looked = self.files[0].looked
        return looked.guess.rows if looked is not None and looked.guess is not None else ()

    def read_by(self, recipe: Recipe, questions: Sequence[Question] = (), kept: str = "") -> None:
        """Read its files by another recipe from here on."""
        self.recipe, self.questions, self.kept, self.tried = recipe, tuple(questions), kept, None

    @property
    def text(self) -> str:
        """The recipe as TOML."""
        return recipe_text(self.recipe, [f"Open: {question.sentence}" for question in self.questions])


@dataclass(slots=True)
class Batch:
    """What one person brought at one time.

    Parameters
    ----------
    id : str
        Nobody can guess it.
    person : str
        Who.
    folder : Path
        Where its files are.
    files : list of Brought
        In order.
    tables : list of Table
        Of those that a recipe reads.
    outcome : Intake or None
        What came of it, or of a dry run, last.
    job : str
        Id of the long work that goes on.
    """

    id: str
    person: str
    folder: Path
    files: list[Brought] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    outcome: Intake | None = None
    job: str = ""

    def add(self, name: str | None, stream: IO[bytes]) -> Brought:
        """Keep one file, piece by piece."""
        number = len(self.files) + 1
        path = self.folder / f"{number:04d}"
        with path.open("wb") as out:
            shutil.copyfileobj(stream, out, _PIECE)
        brought = Brought(number, name_of(name, f"file {number}"), path, path.stat().st_size)
        self.files.append(brought)
        return brought

    def table(self, number: int) -> Table | None:
        """Return the table whose first file has a number."""
        return next((table for table in self.tables if table.number == number), None)

    def recipe_of(self, file: Brought) -> Recipe | None:
        """Return the recipe a file is read by; None where it needs none."""
        found = next((table for table in self.tables if file in table.files), None)
        return found.recipe if found else None

    @property
    def waiting(self) -> list[Table]:
        """Tables that cannot be read before a question is answered."""
        return [table for table in self.tables if table.open]

    @property
    def looked_at(self) -> bool:
        """Whether every file was looked at."""
        return all(file.looked is not None or file.trouble for file in self.files)


class Batches:
    """The batches of one server; the oldest are forgotten, and their files with them."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._kept: OrderedDict[str, Batch] = OrderedDict()
        self._lock = Lock()
        self.apart = Apart(TRYING)

    def new(self, person: str) -> Batch:
        """Begin a batch."""
        with self._lock:
            batch = Batch(new_id(), person, Path(tempfile.mkdtemp(dir=self._here())))
            self._kept[batch.id] = batch
            old = [self._kept.popitem(last=False)[1] for _ in range(len(self._kept) - _MOST)]
        for one in old:
            shutil.rmtree(one.folder, ignore_errors=True)
        return batch

    def place(self, name: str) -> Path:
        """Return a passing folder of this server for other things; it is removed with the server."""
        with self._lock:
            path = self._here() / name
            path.mkdir(exist_ok=True)
        return path

    def _here(self) -> Path:
        if self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="soakage-"))
        return self._folder

    def get(self, batch_id: str, person: str) -> Batch | None:
        """Return a batch of a person that is still remembered."""
        with self._lock:
            found = self._kept.get(batch_id)
        return found if found is not None and found.person == person else None

    def of(self, person: str) -> list[Batch]:
        """Return the batches of a person, the newest first."""
        with self._lock:
            return [batch for batch in reversed(self._kept.values()) if batch.person == person]

    def drop(self, batch: Batch) -> None:
        """Forget a batch and remove its files."""
        with self._lock:
            self._kept.pop(batch.id, None)
        shutil.rmtree(batch.folder, ignore_errors=True)

    def close(self) -> None:
        """Forget everything and remove the files."""
        self.apart.close()
        with self._lock:
            self._kept.clear()
            if self._folder is not None:
                shutil.rmtree(self._folder, ignore_errors=True)
            self._folder = None
