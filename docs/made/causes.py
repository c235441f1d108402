"""The page of probable causes: what speaks for each, what against, what would confirm it."""

from __future__ import annotations

from made.text import code, facts, page, plain, proof, table, target
from soakage.standards.causes import LEAST_WEIGHT, Cause, Evidence, causes


def causes_page() -> str:
    """Return the page of probable causes."""
    return page(
        "Probable causes",
        "Where something is not sound, the signs in the readings are weighed and the causes that stand out are "
        "named, heaviest first. A cause is where to look, never a verdict: it does not change one. It is thought of "
        "only where one of the signs it needs is there, and stands out from a weight of "
        f"{LEAST_WEIGHT:g}. A negative weight speaks against it.\n\n",
        *map(_cause, causes()),
    )


def _cause(cause: Cause) -> str:
    rows = [
        ("id", code(cause.id)),
        ("what", plain(cause.description)),
        ("confirm by", plain(cause.confirm_by)),
        ("next test", f"[{plain(cause.next_test)}](methods/{cause.next_test}.md)"),
        ("needs", ", ".join(map(code, cause.needs))),
        ("where it stands", plain(cause.source)),
        ("verified", proof(cause.verified)),
    ]
    signs = (
        (plain(_said(entry)), code(entry.feature), _span(entry), f"{entry.weight:g}")
        for entry in cause.evidence
    )
    return (
        f"{target(f'cause-{cause.id}')}## {plain(cause.name)}\n\n{facts(rows)}"
        + table(("sign", "feature", "range", "weight"), signs)
    )  # fmt: skip


def _said(entry: Evidence) -> str:
    return entry.text.replace("{value}", "\N{HORIZONTAL ELLIPSIS}")


def _span(entry: Evidence) -> str:
    ends = (("from", entry.start), ("below", entry.below), ("to", entry.to))
    return ", ".join(f"{word} {value:g}" for word, value in ends if value is not None)
