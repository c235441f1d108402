"""The card to take along and write on, as PDF."""

from __future__ import annotations

from soakage.app.plan import Plan
from soakage.report.card_content import card_content
from soakage.report.typesetting import typeset


def card_pdf(plan: Plan, *, paper: str = "a4") -> bytes:
    """Return the card of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    paper : str
        a4 or letter.

    Returns
    -------
    bytes
        PDF/A-2b; the same bytes for the same plan.

    Raises
    ------
    UsageError
        If nothing is planned, with the reason.
    """
    return typeset("card", card_content(plan, paper))
