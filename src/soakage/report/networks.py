"""What a report says of the resistances between terminals."""

from __future__ import annotations

from typing import Any

from soakage.app.result import Network, Pair
from soakage.model.verdict import QuantityValue
from soakage.report.figures import DASH, printed
from soakage.units import format_quantity

Content = dict[str, Any]
MOST_TERMINALS = 6
"""With more, the table alone is clearer than a drawing."""


def network_content(network: Network) -> Content:
    """Return the pairs of one asset."""
    consistent = {
        None: "No reading is left over to check the set against itself.",
        True: "The readings of the set agree with one another.",
        False: "The readings of the set contradict one another: a lead, a guard or a terminal was not as stated.",
    }[network.consistent]
    rows = []
    for pair in network.pairs:
        resolved = pair.resistance is not None and pair.resolved
        quantity = (
            QuantityValue("insulation_resistance", pair.resistance, pair.bound, pair.uncertainty)
            if pair.resistance is not None
            else None
        )
        rows.append(
            {
                "between": f"{pair.between[0]} and {pair.between[1]}",
                "resistance": printed(quantity).with_uncertainty if quantity else DASH,
                "note": "" if resolved else _unresolved(pair),
                "short": printed(quantity).whole if quantity else _short(pair),
            }
        )
    earth, terminals = _ends(network)
    links = [
        {
            "between": list(pair.between),
            "text": row["short"],
            "resolved": pair.resistance is not None and pair.resolved,
        }
        for pair, row in zip(network.pairs, rows, strict=True)
    ]
    alt = "; ".join(f"{row['between']}: {link['text']}" for row, link in zip(rows, links, strict=True))
    said = [consistent, *(f"Set aside: {entry.rstrip('.')}." for entry in network.set_aside)]
    said += [network.suggestion.sentence] if network.suggestion else []
    return {
        "asset": network.asset,
        "rows": rows,
        "sentence": " ".join(said),
        "earth": earth,
        "terminals": terminals if len(terminals) <= MOST_TERMINALS else [],
        "links": links,
        "alt": f"Resistances between terminals. {alt}.",
    }


def _ends(network: Network) -> tuple[str, list[str]]:
    """Return what is drawn as earth, the end of the last pair, and the other terminals."""
    names = list(dict.fromkeys(name for pair in network.pairs for name in pair.between))
    earth = network.pairs[-1].between[1] if network.pairs else "earth"
    return earth, [name for name in names if name != earth]


def _short(pair: Pair) -> str:
    return (
        "?" if pair.at_least is None else f">\u00a0{format_quantity(pair.at_least, 'resistance', digits=2)}"
    )


def _unresolved(pair: Pair) -> str:
    if pair.at_least is None:
        return "not resolved by these connections"
    return f"not resolved; at least {format_quantity(pair.at_least, 'resistance', digits=2)}"
