"""What a report says, apart from its layout: paper, page and workbook are all filled from this.

One record or one schedule makes a report of its own; several make one report with a summary in front.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from soakage.app.result import Evaluated, Evaluation, Visit
from soakage.errors import Fault
from soakage.report.content_record import brief, caution_list, is_invented, parted, record_content
from soakage.report.criteria import criteria
from soakage.report.dry_out import dry_out_content
from soakage.report.figures import counted, day, listed, unparted
from soakage.report.networks import network_content
from soakage.report.summary import NEED, schedule_rows, summary

Content = dict[str, Any]

DRAFT = "draft, not reviewed"
DEFERENCE = (
    "Local codes and licensed practice come first. This report says what was read and how it stands against "
    "the limits named; it gives no leave to work on the plant or to put voltage on it. Who signs decides."
)
INVENTED = "invented sample, no real plant or person"


def report_content(evaluation: Evaluation, *, paper: str = "a4") -> Content:
    """Return everything a report says.

    Parameters
    ----------
    evaluation : Evaluation
        The records with everything said about them.
    paper : str
        a4 or letter; kept beside the words, which do not depend on it.

    Returns
    -------
    dict
        Plain JSON-able values: words, figures as text, and plots as data.
    """
    parts = _parts(evaluation)
    single = len(parts) == 1 and not evaluation.errors and not evaluation.networks
    records = evaluation.records
    drafted = not records or any(not e.record.paper.approved_by for e in records)
    title = parts[0]["title"] if single else _title(evaluation)
    number = _shared(e.record.paper.report_number for e in records)
    revision = _shared(e.record.paper.revision for e in records)
    document = "Insulation test report" + (f" {number}" if number else "")
    document += f", revision {revision}" if revision else ""
    content = {
        "paper": paper,
        "doc": {
            "title": f"{document}: {title}",
            "author": _shared(e.record.paper.tested_by for e in records) or "Soakage",
            "keywords": ["insulation resistance", *sorted({e.method.title.lower() for e in records})],
            "description": DEFERENCE,
        },
        "head": [_head(evaluation), document],
        "foot": _foot(evaluation),
        "draft": DRAFT if drafted else None,
        "single": single,
        "title": title,
        "subtitle": parts[0]["subtitle"] if single else _subtitle(evaluation),
        "deference": DEFERENCE,
        "summary": None if single else summary(evaluation),
        "parts": parts,
        "networks": [network_content(network) for network in evaluation.networks],
        "dry_outs": [dry_out_content(dry_out) for dry_out in evaluation.dry_out],
        "errors": [fault_content(fault) for fault in evaluation.errors],
        "signatures": _signatures(records),
        "origin": _origin(evaluation, number, revision),
    }
    return {key: unparted(value) for key, value in content.items()}


def _head(evaluation: Evaluation) -> str:
    """Return company and heading of the profile, where it has them, and the site."""
    wording = evaluation.rules.wording
    sites = (e.record.asset.site for e in evaluation.records)
    return _shared((wording.get("company"), wording.get("heading"), *sites))


def made(evaluation: Evaluation) -> date | None:
    """Return the time a report carries: when its latest test started, or None. No clock is read."""
    days = [e.record.test.started for e in evaluation.records if e.record.test.started is not None]
    return max(days, key=lambda d: d.isoformat(), default=None)


def _shared(values: Iterable[str | None]) -> str:
    """Return what all records state alike, several joined; empty where none states it."""
    return ", ".join(dict.fromkeys(value for value in values if value))


def _parts(evaluation: Evaluation) -> list[Content]:
    """Return a part for each record, the circuits of one visit together as one schedule."""
    parts: list[Content] = []
    done: set[int] = set()
    visits = {index: visit for visit in evaluation.visits for index in visit.members}
    for index, evaluated in enumerate(evaluation.records):
        if index in done:
            continue
        visit = visits.get(index)
        if evaluated.method.id == "circuit":
            members = [i for i in (visit.members if visit else (index,)) if _is_circuit(evaluation, i)]
            done.update(members)
            schedule = [evaluation.records[i] for i in members]
            parts.append(_schedule(schedule, visit, number=len(parts) + 1))
        else:
            parts.append(record_content(evaluated, number=len(parts) + 1))
    return parts


def _is_circuit(evaluation: Evaluation, index: int) -> bool:
    return evaluation.records[index].method.id == "circuit"


def _neediest(members: Sequence[Evaluated]) -> Evaluated:
    return min(members, key=lambda e: NEED.index(e.verdict.status))


def _schedule(members: Sequence[Evaluated], visit: Visit | None, *, number: int) -> Content:
    """Return a schedule of circuits: one table, its criteria once."""
    first, neediest = members[0], _neediest(members)
    once = {j.criterion: j for e in members for j in reversed(e.judgements)}
    limits = criteria(list(once.values()), {})
    for row in (*limits["rows"], *limits["beside"]):
        row["value"] = ""
    said = dict.fromkeys((f.sentence, f.remedy) for e in members for f in e.findings)
    checks = sum(e.checks_made for e in members), sum(e.checks_passed for e in members)
    notes = dict.fromkeys(e.record.paper.notes for e in members if e.record.paper.notes)
    shared = len(notes) == 1 and all(e.record.paper.notes for e in members)
    untested = dict.fromkeys((n.what, n.why) for e in members for n in e.not_tested)
    name = first.record.asset.name or first.record.asset.site or first.record.asset.title
    return {
        "kind": "schedule",
        "number": number,
        "title": name,
        "subtitle": "Schedule of insulation resistance, "
        f"{counted(len(members), 'reading')}. {day(first.record.day)}.",
        "brief": brief(name),
        "short": f"Schedule, {counted(len(members), 'reading')}, {day(first.record.day)}",
        "verdict": {
            "status": str(neediest.verdict.status),
            **parted(visit.sentence if visit and visit.sentence else neediest.verdict.sentence),
            "first_action": neediest.verdict.actions[0] if neediest.verdict.actions else "",
            "certainty": "",
        },
        "rows": schedule_rows(members, with_notes=not shared),
        "criteria": limits,
        "findings": {
            "sentence": f"{counted(checks[0], 'check')} made on the readings, {checks[1]} passed."
            + ("" if said else " No finding. That tells nothing beyond these checks."),
            "rows": [{"sentence": s, "remedy": r, "status": "", "code": ""} for s, r in said],
        },
        "causes": None,
        "not_tested": [{"what": what, "why": why} for what, why in untested],
        "next": list(dict.fromkeys(a for e in members for a in e.verdict.actions)),
        "cautions": caution_list(first),
        "also_stated": [["Remarks", note] for note in notes] if shared else [],
        "plots": [],
    }


def _title(evaluation: Evaluation) -> str:
    assets = list(dict.fromkeys(e.record.asset.title for e in evaluation.records))
    if not assets:
        return "No record could be read" if evaluation.errors else "No record"
    return assets[0] if len(assets) == 1 else f"{len(assets)}\u00a0assets"


def _subtitle(evaluation: Evaluation) -> str:
    days = sorted({e.record.day for e in evaluation.records if e.record.day is not None})
    when = "" if not days else day(days[0]) if len(days) == 1 else f"{day(days[0])} to {day(days[-1])}"
    methods = listed([*dict.fromkeys(e.method.title.lower() for e in evaluation.records)])
    said = f"{counted(len(evaluation.records), 'record')}" + (f": {methods}" if methods else "")
    return ". ".join(filter(None, (said, when))) + "."


def fault_content(fault: Fault) -> Content:
    """Return a fault of the input in the words of its message."""
    place = fault.file + (f", line {fault.row}" if fault.row is not None else "")
    return {
        "place": ", ".join(filter(None, (place, fault.field))) or "input",
        "problem": fault.problem,
        "given": fault.given,
        "allowed": fault.allowed,
        "remedy": fault.remedy,
    }


def _signatures(records: Sequence[Evaluated]) -> Content:
    papers = [e.record.paper for e in records]
    roles = (("Tested by", "tested_by"), ("Witnessed by", "witnessed_by"), ("Reviewed by", "approved_by"))
    signers = [
        {
            "role": role,
            "name": _shared(getattr(paper, key) for paper in papers),
            "licence": _shared(paper.licence_number for paper in papers) if key == "approved_by" else "",
        }
        for role, key in roles
    ]
    return {
        "signers": signers,
        "note": "Where the signer's verdict differs from the one computed: record, verdict, reason.",
    }


def _foot(evaluation: Evaluation) -> str:
    rules = evaluation.rules
    hashes = list(
        dict.fromkeys(e.record.origin.sha256[:12] for e in evaluation.records if e.record.origin.sha256)
    )
    shown = hashes[0] if hashes else ""
    shown += f" and {len(hashes) - 1} more" if len(hashes) > 1 else ""
    parts = [f"Soakage {rules.version}", f"criteria {rules.criteria_sha256[:12]}", f"profile {rules.profile}"]
    parts.append(f"input {shown}" if shown else "")
    if any(is_invented(e.record) for e in evaluation.records):
        parts.append(INVENTED)
    return " · ".join(filter(None, parts))


def _origin(evaluation: Evaluation, number: str, revision: str) -> list[list[str]]:
    """Return where it all comes from: input, rules, versions, revision."""
    rules = evaluation.rules
    inputs: dict[tuple[str, str], int] = {}
    for evaluated in evaluation.records:
        origin = evaluated.record.origin
        key = (origin.file.replace("\\", "/").rpartition("/")[2], origin.sha256)
        inputs[key] = inputs.get(key, 0) + 1
    rows = [
        ["Report", ", ".join(filter(None, (number, f"revision {revision}" if revision else "")))],
        ["Revised", _shared(e.record.paper.revision_reason for e in evaluation.records)],
    ]
    for (file, sha256), count in inputs.items():
        many = f" ({count} records)" if count > 1 else ""
        rows.append(["Input", f"{file or 'not from a file'}{many}, SHA-256 {sha256 or 'not known'}"])
    rows += [
        ["Profile", f"{rules.profile_title} ({rules.profile}), SHA-256 {rules.profile_sha256}"],
        ["Criteria", f"SHA-256 {rules.criteria_sha256}; Soakage {rules.version}"],
        ["Note of the profile", rules.wording.get("note", "")],
    ]
    zoneless = [e for e in evaluation.records if isinstance(e.record.test.started, datetime)]
    if any(
        e.record.test.started.tzinfo is None for e in zoneless if isinstance(e.record.test.started, datetime)
    ):
        rows.append(["Times", "local, no zone stated"])
    return [row for row in rows if row[1]]
