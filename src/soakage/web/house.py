"""What all pages of one server share, found through the request."""

from __future__ import annotations

from dataclasses import dataclass, field

from starlette.requests import HTTPConnection

from soakage.web.accounts import Accounts, MemoryAccounts
from soakage.web.batches import Batches
from soakage.web.jobs import Jobs
from soakage.web.keepsakes import Keepsakes
from soakage.web.limits import RateLimit
from soakage.web.metrics import Metrics
from soakage.web.routing import Router
from soakage.web.sessions import Sessions
from soakage.web.settings import Settings
from soakage.web.shelf import Shelf
from soakage.web.trials import Trials


def _by_name() -> RateLimit:
    return RateLimit(5, 300.0)


def _by_address() -> RateLimit:
    return RateLimit(20, 300.0)


@dataclass(slots=True)
class House:
    """What all pages of one server share.

    Parameters
    ----------
    settings : Settings
        What it was started with.
    accounts : Accounts
        Who may log in.
    sessions : Sessions
        Who has.
    routers : list of Router
        The pages, for the words in the head.
    metrics : Metrics
        What is counted.
    by_name, by_address : RateLimit
        How often logging in may be tried.
    shelf : Shelf
        Charts of the last pages.
    trials : Trials
        What other rule sets would change, tried of late.
    jobs : Jobs
        Long work that goes on.
    batches : Batches
        Files that were brought and are not taken in yet.
    keepsakes : Keepsakes
        What came of long work, until it is looked at.
    """

    settings: Settings
    accounts: Accounts = field(default_factory=MemoryAccounts)
    sessions: Sessions = field(default_factory=Sessions)
    routers: list[Router] = field(default_factory=list)
    metrics: Metrics = field(default_factory=Metrics)
    by_name: RateLimit = field(default_factory=_by_name)
    by_address: RateLimit = field(default_factory=_by_address)
    shelf: Shelf = field(default_factory=Shelf)
    trials: Trials = field(default_factory=Trials)
    jobs: Jobs = field(default_factory=Jobs)
    batches: Batches = field(default_factory=Batches)
    keepsakes: Keepsakes = field(default_factory=Keepsakes)


def house(request: HTTPConnection) -> House:
    """Return what the pages share."""
    shared = request.app.state.house
    assert isinstance(shared, House)  # noqa: S101 - set where the app is made, nowhere else
    return shared
