"""How charts look on paper and on a screen: one grammar, three sets of ink."""

from __future__ import annotations

from dataclasses import dataclass, replace

from soakage.errors import UsageError


@dataclass(frozen=True, slots=True)
class Look:
    """Inks and weights of charts, in points (paper) or pixels (screen).

    Parameters
    ----------
    ink, second, model, ground : str
        Colours of readings, of what is beside them, of what is worked out, and of what lies behind.
    grid : str
        Colour of grid lines; empty for none.
    text : float
        Size of all text.
    heavy, thin : float
        Widths of measured lines and of the others.
    ring : float
        Area of the ring at a mark.
    stroke : float
        Length of the strokes on the forbidden side of a limit.
    dashes, dots : tuple of float
        Patterns of worked-out parts.
    tint : float
        Opacity of a band; 0 where there are no greys.
    stone : str
        Colour of the band of peers; empty where there are no greys.
    """

    ink: str
    second: str
    model: str
    ground: str
    grid: str
    text: float
    heavy: float
    thin: float
    ring: float
    stroke: float
    dashes: tuple[float, float]
    dots: tuple[float, float]
    tint: float = 0.0
    stone: str = ""


_PAPER = Look(
    ink="#000", second="#000", model="#000", ground="#fff", grid="", text=7.5, heavy=1.6, thin=0.9, ring=24,
    stroke=5, dashes=(4, 2.2), dots=(1, 1.8),
)  # fmt: skip
# Tokens of the pages: the page's own style decides light or dark.
_SCREEN = Look(
    ink="var(--ink)", second="var(--ink-2)", model="var(--glass)", ground="var(--ground)", grid="var(--line)",
    text=14, heavy=2.5, thin=1.75, ring=70, stroke=9, dashes=(9, 5), dots=(2, 4), tint=0.16,
    stone="var(--stone)",
)  # fmt: skip
LOOKS = {
    "paper": _PAPER,
    "screen": _SCREEN,
    "screen-light": replace(
        _SCREEN,
        ink="#0E1F1D",
        second="#384A47",
        model="#055450",
        ground="#F1F4F2",
        grid="#C9D3CF",
        stone="#DBE2DF",
    ),
    "screen-dark": replace(
        _SCREEN,
        ink="#E2EAE7",
        second="#B4C2BD",
        model="#7FD4CB",
        ground="#0C1312",
        grid="#2B3734",
        stone="#22302D",
    ),
}


def look(name: str) -> Look:
    """Return a look by name.

    Raises
    ------
    UsageError
        If there is none of that name.
    """
    try:
        return LOOKS[name]
    except KeyError:
        raise UsageError(f"Unknown look. Given: {name}. Allowed: {', '.join(LOOKS)}.") from None
