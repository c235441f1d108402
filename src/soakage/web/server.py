"""The server: every page and every part of the API that is found, behind the guards."""

from __future__ import annotations

from fastapi import Depends, FastAPI
from starlette.middleware.gzip import GZipMiddleware

from soakage import __version__
from soakage.web import api, pages, statics
from soakage.web.accounts import Accounts, Role
from soakage.web.failures import register
from soakage.web.guards import Guards
from soakage.web.headers import Answers
from soakage.web.house import House
from soakage.web.people import needs, token_checked
from soakage.web.routing import Router, found
from soakage.web.settings import Settings, refuse_if_open
from soakage.web.shapes import ANSWERS
from soakage.web.shown import shown_as
from soakage.web.stored_accounts import StoreAccounts
from soakage.web.stored_sessions import StoreSessions
from soakage.wiring.memory import open_store


def create_app(settings: Settings, accounts: Accounts | None = None) -> FastAPI:
    """Return the server's app.

    Parameters
    ----------
    settings : Settings
        What it is started with.
    accounts : Accounts or None
        Who may log in; None for those the store keeps, which on the loopback address may be nobody.

    Raises
    ------
    UsageError
        When others could reach it and accounts or TLS are missing.
    DiscoveryError
        When two pages have one id.
    """
    store = open_store(settings.store or None)
    known = accounts or StoreAccounts(store)
    refuse_if_open(settings, has_accounts=known.any())
    shared = House(settings=settings, accounts=known)
    if accounts is None:
        shared.sessions = StoreSessions(store)
    app = FastAPI(
        title="Soakage",
        summary="Insulation tests under direct voltage: plan, judge, report.",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        responses=ANSWERS,
        dependencies=[Depends(token_checked), Depends(shown_as)],
        redirect_slashes=False,
    )
    app.state.house = shared
    app.state.store = store
    register(app)
    app.include_router(statics.ROUTER)
    for router in found(pages, "soakage.pages"):
        if not router.developer or settings.developer:
            shared.routers.append(router)
            _include(app, router, in_schema=False)
    for router in found(api, "soakage.api"):
        _include(app, router, in_schema=True)
    app.add_middleware(GZipMiddleware, minimum_size=600, compresslevel=5)
    app.add_middleware(Guards, settings=settings)
    app.add_middleware(Answers, shared=shared)
    return app


def _include(app: FastAPI, router: Router, *, in_schema: bool) -> None:
    guarded = [] if router.open else [Depends(needs(Role.READ))]
    app.include_router(router, dependencies=guarded, include_in_schema=in_schema)
