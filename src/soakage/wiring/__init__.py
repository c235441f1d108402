"""The one place that picks importers, rules and report writers for the doors."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from soakage.app.evaluate import Progress, evaluate
from soakage.app.plan import Plan, plan
from soakage.app.plan_graded import Grading, first_hold
from soakage.app.plan_sheet import schedule_rows, sheet_names, sheet_values
from soakage.app.result import Evaluation
from soakage.app.rules import Rules, check_methods, default_rules, user_limits, with_temperature_rule
from soakage.errors import InputError, StandardDataError, UsageError
from soakage.importers.reading import importers, read_files
from soakage.importers.statement import read_statement
from soakage.importers.write_record import schedule_text, sheet_text
from soakage.model.record import Record
from soakage.standards.library import library
from soakage.standards.profile import Profile, embedded_profile, profile, read_profile

Writer = Callable[[Evaluation], bytes]


def rules(
    profile_name: str | None = None,
    limits: Sequence[str] = (),
    temperature_rule: str | None = None,
    ratios: Sequence[tuple[float, float]] = (),
    *,
    guarded: bool = False,
) -> Rules:
    """Return the rules the user asked for.

    Parameters
    ----------
    profile_name : str, optional
        Id of a profile that comes with Soakage, or the path of a profile file.
    limits : sequence of str
        The user's own limits, as typed.
    temperature_rule : str, optional
        Id of the temperature rule to use instead of the profile's.
    ratios : sequence of (later, earlier)
        Further ratios of resistances, marks in seconds.
    guarded : bool, optional
        Count a limit as met only beyond its guard band.

    Returns
    -------
    Rules

    Raises
    ------
    StandardDataError, UsageError
        If a profile, limit or rule is wrong.
    """
    chosen = default_rules() if profile_name is None else Rules(named_profile(profile_name), library())
    chosen = replace(chosen, limits=user_limits(limits), ratios=tuple(ratios), guarded=guarded)
    return with_temperature_rule(chosen, temperature_rule)


def named_profile(name: str) -> Profile:
    """Return a profile by id, or from a file where the name is a path that exists."""
    path = Path(name)
    if path.suffix == ".toml" or path.is_file():
        try:
            content = path.read_bytes()
        except OSError as problem:
            raise StandardDataError(
                f"{name}: {problem.strerror or problem}. Give a readable profile file."
            ) from None
        return check_methods(read_profile(name, content, library(), embedded_profile), name)
    return check_methods(profile(name))


def judge_files(
    paths: Sequence[str | Path],
    overrides: Mapping[str, str],
    chosen: Rules,
    progress: Progress | None = None,
    archive: str | Path | None = None,
) -> Evaluation:
    """Read files and evaluate their records; what cannot be read stands in the result's errors.

    Parameters
    ----------
    paths : sequence of str or Path
        Record files.
    overrides : mapping of str to str
        Keys given as options, as typed.
    chosen : Rules
        What judges.
    progress : callable, optional
        Called with (done, total) after each record.
    archive : str or Path, optional
        Folder of complete tests that a forecast is rescaled by; what is no record there is passed over.

    Returns
    -------
    Evaluation

    Raises
    ------
    UsageError
        If the archive is no folder that can be read.
    """
    past = None if archive is None else archived(Path(archive))
    result = read_files(paths, overrides)
    return evaluate(result.records, chosen, result.errors, progress, past)


def archived(folder: Path) -> tuple[Record, ...]:
    """Return the records of a folder and of those below it; files that are no records are passed over.

    Raises
    ------
    UsageError
        If it is no folder.
    """
    if not folder.is_dir():
        raise UsageError(f"{folder}: no such folder. Give the folder that holds the files of earlier tests.")
    endings = {suffix for importer in importers().values() for suffix in importer.suffixes}
    files = sorted(path for path in folder.rglob("*") if path.suffix.lower() in endings and path.is_file())
    return read_files(files).records


def _pdf(paper: str) -> Writer:
    from soakage.report.pdf import report_pdf

    return lambda evaluation: report_pdf(evaluation, paper=paper)


def _html(_paper: str) -> Writer:
    from soakage.report.html import report_html

    return lambda evaluation: report_html(evaluation).encode()


def _xlsx(_paper: str) -> Writer:
    from soakage.report.xlsx import report_xlsx

    return report_xlsx


REPORTS: Mapping[str, Callable[[str], Writer]] = {".pdf": _pdf, ".html": _html, ".xlsx": _xlsx}


def report_writer(path: Path, paper: str) -> Writer:
    """Return what writes a report of the kind the file's ending names.

    Raises
    ------
    UsageError
        If no report has this ending.
    """
    maker = REPORTS.get(path.suffix.lower())
    if maker is None:
        raise UsageError(f"{path}: a report ends in {', '.join(REPORTS)}. Choose one of these endings.")
    return maker(paper)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    UsageError
        If the folder does not exist or cannot be written.
    """
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(content)
        part.replace(path)
    except OSError as problem:
        part.unlink(missing_ok=True)
        raise UsageError(
            f"{path}: {problem.strerror or problem}. Choose a folder that can be written."
        ) from None


def planned(
    overrides: Mapping[str, str],
    asset_file: str | None,
    profile_name: str | None,
    *,
    tests: Sequence[str] = (),
    relative_permittivity: float | None = None,
    absorption_exponent: float | None = None,
    graded: str | None = None,
    first_hold_file: str | None = None,
) -> Plan:
    """Return the plan for what is stated by options, or in the header of a file.

    Parameters
    ----------
    overrides : mapping of str to str
        Keys given as options, as typed.
    asset_file : str, optional
        A record file whose header is read.
    profile_name : str, optional
        Rule set.
    tests : sequence of str
        Methods to plan, before the one the file or the options state.
    relative_permittivity : float, optional
        Of a cable's insulation.
    absorption_exponent : float, optional
        From an earlier test.
    graded : str, optional
        Steps of a graded step test, in per cent of its first level.
    first_hold_file : str, optional
        Record of its first hold; the rest is planned from it.

    Returns
    -------
    Plan

    Raises
    ------
    InputError, UsageError
        If something stated is wrong, or the class is missing, or the first hold gives no exponent.
    """
    statement = read_statement(overrides, asset_file)
    stated = statement.stated
    method = stated.get("method")
    chosen = rules(profile_name)
    grading = None
    if graded is not None or first_hold_file is not None:
        first = None if first_hold_file is None else first_hold(_only_record(first_hold_file), chosen)
        grading = Grading(float(graded or 20) / 100, absorption_exponent, first)
    return plan(
        statement.asset,
        purpose=stated.get("purpose"),
        methods=tuple(dict.fromkeys((*tests, method) if method else tests)),
        hazardous_area=stated.get("hazardous_area"),
        gas_free_certificate=stated.get("gas_free_certificate"),
        capacitance=stated.get("capacitance"),
        relative_permittivity=relative_permittivity,
        absorption_exponent=absorption_exponent,
        current_limit=stated.get("current_limit"),
        grading=grading,
        rules=chosen,
    )


def _only_record(path: str) -> Record:
    result = read_files([path])
    if result.errors:
        raise InputError(result.errors)
    if len(result.records) != 1:
        raise UsageError(
            f"{path}: {len(result.records)} records. Give a file that holds the one of the first hold."
        )
    return result.records[0]


def plan_files(result: Plan, output: Path, paper: str) -> list[Path]:
    """Write a plan's card (.pdf) or its sheets (.csv); return the paths written.

    Raises
    ------
    UsageError
        If the ending is neither, or the folder cannot be written.
    """
    suffix = output.suffix.lower()
    if suffix == ".pdf":
        from soakage.report.card_pdf import card_pdf

        write_whole(output, card_pdf(result, paper=paper))
        return [output]
    if suffix != ".csv":
        raise UsageError(
            f"{output}: a plan is written as card.pdf or sheet.csv. Choose one of these endings."
        )
    names = sheet_names(result, output.name)
    rows = schedule_rows(result)
    if rows:
        values, _, columns = sheet_values(result, 0)
        texts = [schedule_text(values, rows, columns)]
    else:
        texts = [sheet_text(*sheet_values(result, place)) for place in range(len(names))]
    paths = [output.with_name(name) for name in names]
    for path, text in zip(paths, texts, strict=True):
        write_whole(path, text.encode())
    return paths
