"""Probable causes of what is not sound: looked for in each record with its mates of the visit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from soakage.app.features import Signs, features
from soakage.app.result import Evaluated
from soakage.app.visits import Spread
from soakage.model.verdict import Status
from soakage.standards.causes import causes, rank
from soakage.standards.library import Library


def with_causes(
    evaluated: Sequence[Evaluated],
    groups: Sequence[Sequence[int]],
    spreads: Mapping[int, Spread],
    library: Library,
) -> tuple[Evaluated, ...]:
    """Return the records with their probable causes.

    Parameters
    ----------
    evaluated : sequence of Evaluated
        All records.
    groups : sequence of sequence of int
        Places of the records of each visit.
    spreads : mapping of int to Spread
        Spread among sister sections, by place.
    library : Library
        Holds the figures features are cut at.

    Returns
    -------
    tuple of Evaluated
        Causes are sought wherever the verdict is not sound; empty where none stands out.
    """
    results = list(evaluated)
    for group in groups:
        for place in group:
            item = evaluated[place]
            if item.verdict.status is Status.SOUND and not any(f.status for f in item.findings):
                continue
            mates = [(evaluated[k].record, evaluated[k].quantities) for k in group if k != place]
            signs = Signs(
                item.record, item.quantities, item.findings, item.judgements, spreads.get(place), mates
            )
            found = features(signs, library)
            ranked = rank(causes(), found.values, found.texts)
            results[place] = replace(item, causes=ranked, causes_sought=True)
    return tuple(results)
