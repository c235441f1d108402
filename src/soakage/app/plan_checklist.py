"""What to tick off before the first connection, by class: in the order of the hands."""

from __future__ import annotations

from soakage.model.asset import Asset

_FIRST = (
    "Permit held; isolation locked and tagged",
    "Area roped off; second person present",
    "Detector, part, detector again: proved dead",
)
_LAST = (
    "Instrument, leads, calibration checked",
    "All terminals earthed until the first test",
)
_BY_CLASS = {
    "rotating-machine": (
        "Cables, surge capacitors, arresters off",
        "Drive, soft starter, voltage transformers off",
        "Sensors in the winding earthed or off",
    ),
    "transformer": (
        "Not under vacuum; filling and level known",
        "All terminals of each winding joined",
        "Current transformers: secondaries shorted",
        "Arresters and neutral earth off",
        "Core earth as the maker says",
    ),
    "cable": (
        "Far end: open, guarded, person in contact",
        "Everything else taken off at both ends",
        "Screens and idle cores earthed",
        "Terminations clean and dry",
    ),
    "switchgear": (
        "Electronics and arresters out",
        "Voltage and control transformers out",
        "No open vacuum interrupter in the path",
        "No capacitor left between terminals",
    ),
    "low-voltage-installation": (
        "Electronics and surge devices off",
        "Lamps and loads out; switches closed",
        "Neutral separated where it is earthed",
        "People at the far points told",
    ),
    "apparatus": (
        "Electronics and arresters off",
        "No capacitor left between terminals",
        "No open vacuum interrupter in the path",
    ),
}
_STAR = {
    "opened": "Star point opened; both ends of a phase joined",
    "closed": "Star point closed; all phases joined",
}


def checklist(asset: Asset) -> tuple[str, ...]:
    """Return what to tick off before the first connection.

    Parameters
    ----------
    asset : Asset
        Its class decides; of a machine also whether the star point is opened.

    Returns
    -------
    tuple of str
        Short items, in the order of the work.
    """
    own = _BY_CLASS.get(asset.asset_class or "", _BY_CLASS["apparatus"])
    if asset.asset_class == "rotating-machine" and asset.winding not in ("field", "armature"):
        own = (*own, _STAR.get(asset.neutral or "", "Star point opened, or written down as closed"))
    return (*_FIRST, *own, *_LAST)
