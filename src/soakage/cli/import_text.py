"""What came of an import, as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from soakage.app.intake import Intake, TakenFile
from soakage.cli.tables import table
from soakage.cli.wrapping import counted, wrapped

MOST = 200  # rows of the table; above that only what needs a look is shown
_LOOK = ("unfit", "investigate", "invalid test", "not judged", "watch")


def intake_text(taken: Intake, left: int = 0, differing: Sequence[str] = ()) -> Iterator[str]:
    """Yield the lines: each file with its outcome and verdicts, the reasons of those refused, counts, what next.

    Parameters
    ----------
    taken : Intake
        What came of it.
    left : int
        Files that were not read any more.
    differing : sequence of str
        What the register has otherwise than an export.
    """
    if taken.dry_run:
        yield "A dry run: nothing was kept. It would give:"
        yield ""
    shown = [file for file in taken.files if file.outcome != "refused"]
    hidden = 0
    if len(shown) > MOST:
        needed = [file for file in shown if any(test.status in _LOOK for test in file.tests)][:MOST]
        hidden, shown = len(shown) - len(needed), needed
    if shown:
        yield from table(
            ("file", "outcome", "asset", "status"), [row for file in shown for row in _rows(file)]
        )
        yield ""
    if hidden:
        yield wrapped(f"{counted(hidden, 'more file')} not shown here; 'soakage list' shows their tests.")
        yield ""
    noticed = [
        (file.file, finding) for file in taken.files for test in file.tests for finding in test.findings
    ]
    if noticed:
        yield f"To look at ({len(noticed)})"
        for name, finding in noticed[:MOST]:
            yield wrapped(f"{name}: {finding.sentence} {finding.remedy}", "    ", "  - ")
        yield ""
    if differing:
        yield wrapped(
            f"The register stands where the export differs: {'; '.join(differing)}.", "    ", "  - "
        )
        yield ""
    refused = [file for file in taken.files if file.outcome == "refused"]
    if refused:
        yield f"Refused ({len(refused)})"
        for file in refused:
            for fault in file.faults:
                yield wrapped(str(fault), "    ", "  - ")
        yield ""
    yield wrapped(_counts(taken, left))
    yield wrapped(_next(taken, left))


def _rows(file: TakenFile) -> Iterator[tuple[str, str, str, str | None]]:
    for place, test in enumerate(file.tests):
        name = ", ".join(dict.fromkeys((test.asset_title, test.section)))
        status = "already here" if test.known else test.status
        yield file.file if place == 0 else "", file.outcome if place == 0 else "", name, status


def _counts(taken: Intake, left: int) -> str:
    would = "would be " if taken.dry_run else ""
    news = f"{counted(taken.tests_added, 'test')}, {counted(len(taken.assets_added), 'new asset')}"
    parts = [
        f"{counted(taken.count('added'), 'file')} {would}taken in ({news})",
        f"{taken.count('known')} known already",
        f"{taken.count('refused')} refused",
    ]
    if left:
        parts.append(f"{left} not read")
    return ", ".join(parts) + "."


def _next(taken: Intake, left: int) -> str:
    if left:
        return "Give the same command again for the rest: what is kept is known and passed over."
    if taken.dry_run:
        return "Give the same command without --dry-run to keep it."
    if taken.count("added") or taken.count("known"):
        return "Next: 'soakage list', or 'soakage show ASSET'."
    return "Mend the files and give the command again."
