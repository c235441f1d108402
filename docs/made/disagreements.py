"""Where sources disagree: their rules side by side, by id, with what the default takes."""

from __future__ import annotations

from made.text import code, link, plain, table
from soakage.app.explain import explain
from soakage.standards.library import Library
from soakage.standards.profile import Profile

# (what it is about, what it amounts to, ids side by side)
DISAGREEMENTS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "Temperature of an oil-immersed transformer",
        ("One rule about doubles per 10 K (3.95 for 20 K); two take 1.5 per 10 K (2.25 for 20 K); the physics of "
        "the material gives more than either (16 and up)."),
        ("neta-100-14-1.oil", "gb-50150-2006.transformer", "rd-34-45-1997.transformer",
         "material-constants.rules-as-energies"),
    ),
    (
        "Constants of the transformer formula C E / sqrt(kVA)",
        "0.8 and 16 against 1.5 and 30: nearly twice.",
        ("transformer-formula.minimum-resistance.liquid-filled", "transformer-formula.minimum-resistance.dry",
         "transformer-formula.minimum-resistance-older.liquid-filled",
         "transformer-formula.minimum-resistance-older.dry"),
    ),
    (
        "Minimum resistance of apparatus, old and new rows",
        ("Rows at 5, 8 and 25 kV changed, the highest test voltage too; the ninth row is printed as 34 000 and as "
        "34 500 V."),
        ("neta-100-1.minimum-resistance.apparatus", "neta-mts-2019.apparatus-minimum-resistance.table-100-1",
         "neta-ats-2009.minimum-resistance.apparatus"),
    ),
    (
        "Two tables of temperature factors by one publisher",
        "To 20 °C and to 40 °C; the one is not the inverse of the other (1/3.95 is not 0.25).",
        ("neta-100-14-1.oil", "neta-100-14-2.oil", "neta-100-14-1.solid", "neta-100-14-2.solid"),
    ),
    (
        "Polarization index of a transformer",
        "One floor of 1.0, one minimum of 1.3 or 1.5, and bands of practice; none is an IEEE limit.",
        ("neta-mts-2019.transformer-polarization-index.liquid-filled",
         "neta-mts-2019.transformer-polarization-index.dry",
         "gb-50150-2006.transformer-absorption-ratio.minimum",
         "gb-50150-2006.transformer-polarization-index.from-220-kv",
         "practice.oil-paper-index-band.liquid-filled"),
    ),
    (
        "Minimum of a low-voltage circuit",
        "0.5 MΩ for 230/400 V before 2006, 1 MΩ since.",
        ("iec-60364-6-2016.minimum-resistance.to-500-v", "iec-60364-before-2006.minimum-resistance.to-500-v"),
    ),
    (
        "Minimum of a cable",
        ("By voltage alone, by voltage and length, or by material and geometry. One 15 kV cable of 2000 ft: "
        "5000 MΩ, 8 MΩ, or 2553 MΩ (derived)."),
        ("neta-100-1.minimum-resistance.cable", "ufgs-16302n.low-voltage-conductor.minimum",
         "icea-s-series.minimum-resistance.xlpe", "iec-60502-1.minimum-resistance.pvc-20-c"),
    ),
    (
        "Stored energy and charge that hurt",
        "The strictest is used in every caution and named, the others beside it.",
        ("nfpa-70e-2021.capacitor-reflex-energy", "en-50191-2010.energy", "doe-laboratory.capacitor-energy",
         "iec-61010-1-2010.charge"),
    ),
    (
        "Direct voltage that hurts",
        "The strictest is used and named.",
        ("nfpa-70e-2021.shock", "en-50191-2010.touch-dc", "doe-laboratory.shock-dc"),
    ),
    (
        "Direct withstand of paper-insulated cable",
        "Levels differ between documents; tables are for reading only and never proposed.",
        ("ufgs-16302n.direct-withstand",),
    ),
    (
        "Spread among the phases of a machine",
        "At most 2 as read; two editions of another document are remembered as 50 % and 100 %.",
        ("gb-50150-2006.phase-spread.machine", "rd-34-45-1997.leakage-spread-half",
         "rd-34-45-1997.leakage-spread-whole"),
    ),
)  # fmt: skip
DEW_POINT = (
    "### Constants of the dew point\n\nThe pairs in use differ by less than 0.06 K (derived), which decides nothing; "
    "those of WMO-No. 8 are taken: {}.\n\n"
)


def disagreements(library: Library, default: Profile) -> str:
    """Return the disagreements, each as a table of the rules side by side.

    Parameters
    ----------
    library : Library
        The criteria files.
    default : Profile
        The default rule set: what it takes is marked.

    Returns
    -------
    str
        Markdown.
    """
    taken = {use.rule for use in default.temperatures} | {
        member.id
        for use in default.uses
        if not use.shown
        for name in use.criteria
        for member in library.members(name)
    }
    parts = []
    for title, amounts, names in DISAGREEMENTS:
        rows = []
        for name in names:
            said = explain(name, library)
            rule = said.formula if said.kind in ("criterion", "threshold") else said.definition
            mark = "yes" if name in taken else ""
            rows.append((link(name), plain(rule), plain(said.source), code(said.verified), mark))
        parts.append(f"### {title}\n\n{plain(amounts)}\n\n")
        parts.append(table(("id", "rule", "source", "verified", "judges by default"), rows))
    return "".join(parts) + DEW_POINT.format(link("quantity-dew_point", code("dew_point")))
