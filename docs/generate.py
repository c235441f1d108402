"""Writes docs/_generated from the house itself, so that no page can say other than the code does.

Run by docs/conf.py before Sphinx looks for files.  A file that would not change is left alone, and one
that is no longer made is taken away.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from made import causes, checked, disagreements, history, methods, standards, words  # noqa: E402 - the folder has to be found first

from soakage.standards.library import library  # noqa: E402
from soakage.standards.profile import profile  # noqa: E402

FOLDER = HERE / "_generated"


def pages() -> dict[str, str]:
    """Return every made file by its path inside the folder."""
    known, default = library(), profile()
    root = HERE.parent
    return {
        **methods.method_pages(known),
        **standards.standard_pages(known, default),
        "profile.md": words.profile_page(default, known),
        "keys.md": words.keys_page(),
        "quantities.md": words.quantities_page(known),
        "formulas.md": words.formulas_page(),
        "findings.md": words.findings_page(),
        "causes.md": causes.causes_page(),
        "cases.md": checked.cases_page(root / "tests" / "references"),
        "parts/libraries.txt": checked.libraries_table(),
        "parts/disagreements.txt": disagreements.disagreements(known, default),
        "parts/fleet.txt": history.fleet(),
        "parts/happenings.txt": history.happenings(),
        "parts/confusion.txt": checked.confusion(root / "benchmarks" / "results"),
        "parts/benchmarks.txt": checked.benchmarks(root / "benchmarks" / "results"),
        **checked.schemas(),
    }


def write(folder: Path) -> list[Path]:
    """Write the made files into a folder; return those that changed.

    Parameters
    ----------
    folder : Path
        Made where it is not there; holds nothing else afterwards.

    Returns
    -------
    list of Path
        Files written or taken away.
    """
    changed = []
    made = pages()
    for name, text in made.items():
        path = folder / name
        if path.is_file() and path.read_text(encoding="utf-8") == text:
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        changed.append(path)
    for path in folder.rglob("*"):
        if path.is_file() and path.relative_to(folder).as_posix() not in made:
            path.unlink()
            changed.append(path)
    return changed


if __name__ == "__main__":
    write(FOLDER)
