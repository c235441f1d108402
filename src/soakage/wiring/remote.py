"""Another store, reached through its server: over HTTPS, its certificate checked, whoever asks known by a password."""

from __future__ import annotations

import http.client
import json
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path
from typing import IO, Any, Self
from urllib.parse import urlsplit

from soakage import __version__
from soakage.app.holdings import Holdings, holdings_of, holdings_plain
from soakage.errors import StoreError, UsageError

OCTETS = "application/octet-stream"
_WAIT = 120.0  # seconds for each step of an exchange
_MOST = 16 << 20  # bytes of an answer in JSON
_PIECE = 1 << 16
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a server is: host, port, and whether it speaks TLS."""

    host: str
    port: int
    secure: bool

    def __str__(self) -> str:
        """Return its address as a browser takes it."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'https' if self.secure else 'http'}://{host}:{self.port}"


def place_of(text: str) -> Place:
    """Return the place of an address as typed.

    Parameters
    ----------
    text : str
        Such as ``https://office.example``; plain HTTP only to this very machine.

    Raises
    ------
    UsageError
        If it is no such address, would send a password in the open, or holds one.
    """
    try:
        parts = urlsplit(text.strip())
        port = parts.port
    except ValueError:
        parts, port = urlsplit(""), None
    if (
        parts.scheme not in ("https", "http")
        or not parts.hostname
        or parts.path not in ("", "/")
        or parts.query
    ):
        raise UsageError(f"{text[:200]!r} is no address of a store. Write it as https://office.example:8650.")
    if parts.username is not None or parts.password is not None:
        raise UsageError(
            "Leave name and password out of the address. The name goes with --account; you are asked."
        )
    secure = parts.scheme == "https"
    if not secure and not _this_machine(parts.hostname):
        raise UsageError(
            f"{parts.hostname}: without TLS anybody on the way reads along. Write https:// before it. "
            "Plain http:// is only for this machine."
        )
    return Place(parts.hostname, port or (443 if secure else 80), secure)


def _this_machine(host: str) -> bool:
    try:
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


class Remote:
    """A session with the server of another store.

    Parameters
    ----------
    place : Place
        Where it is.
    certificate : Path or None
        File of a certificate authority of one's own; those of the system unless given.
    """

    def __init__(self, place: Place, certificate: Path | None = None) -> None:
        self.place = place
        self._line: http.client.HTTPConnection
        if place.secure:
            self._line = http.client.HTTPSConnection(
                place.host, place.port, timeout=_WAIT, context=_trusted(certificate)
            )
        else:
            self._line = http.client.HTTPConnection(place.host, place.port, timeout=_WAIT)
        self._cookies: dict[str, str] = {}
        self._token = ""

    def __enter__(self) -> Self:
        """Return itself; the session ends with the block."""
        return self

    def __exit__(self, *_problem: object) -> None:
        """Log out where it can be, and hang up."""
        if self._token:
            with suppress(StoreError, UsageError):  # else it ends by itself
                self._ask("DELETE", "/api/session")
        self._line.close()

    def log_in(self, name: str, password: Callable[[], str]) -> None:
        """Begin a session; the password is asked for where the server wants one.

        Parameters
        ----------
        name : str
            Of the account.
        password : callable
            Gives the password.

        Raises
        ------
        UsageError
            If name and password do not belong together, or it was tried too often.
        StoreError
            If nothing of ours answers there.
        """
        session = self._session("GET", None)
        if session["name"] is None:
            self._token = str(session["csrf"])
            session = self._session("POST", {"name": name, "password": password()})
        self._token = str(session["csrf"])

    def holdings(self) -> tuple[str, Holdings]:
        """Return the id of the other store and what it holds."""
        told = self._ask("GET", "/api/exchange/holdings")
        try:
            return str(told["store"]), holdings_of(told["holdings"])
        except (KeyError, TypeError, ValueError):
            raise self._strange() from None

    @contextmanager
    def pull(self, held: Holdings) -> Iterator[http.client.HTTPResponse]:
        """Give what the other store holds beyond this, as a bundle that is read while it comes."""
        body = json.dumps({"holdings": holdings_plain(held)}).encode()
        with self._heard():
            answer = self._sent("POST", "/api/exchange/pull", body, "application/json")
            if answer.status != http.client.OK:
                raise self._refusal(answer)
            yield answer

    def push(self, bundle: IO[bytes], size: int, *, dry_run: bool, sent: Progress) -> dict[str, Any]:
        """Send a bundle; return what came of it, in the shape of ``merge --json``.

        Parameters
        ----------
        bundle : binary file
            At its start.
        size : int
            Its bytes.
        dry_run : bool
            Whether the other store is to keep nothing.
        sent : callable
            Called with (bytes sent, of how many).
        """

        def pieces() -> Iterator[bytes]:
            done = 0
            while piece := bundle.read(_PIECE):
                yield piece
                done += len(piece)
                sent(done, size)

        address = f"/api/exchange/push?dry_run={'true' if dry_run else 'false'}"
        with self._heard():
            return self._told(self._sent("POST", address, pieces(), OCTETS, size))

    def _session(self, method: str, given: dict[str, str] | None) -> dict[str, Any]:
        told = self._ask(method, "/api/session", given)
        if not {"name", "csrf"} <= set(told):
            raise self._strange()
        return told

    def _ask(self, method: str, address: str, given: dict[str, str] | None = None) -> dict[str, Any]:
        body = None if given is None else json.dumps(given).encode()
        with self._heard():
            return self._told(self._sent(method, address, body, "application/json"))

    def _sent(
        self,
        method: str,
        address: str,
        body: bytes | Iterator[bytes] | None,
        kind: str,
        size: int | None = None,
    ) -> http.client.HTTPResponse:
        headers = {"Accept": "application/json", "User-Agent": f"soakage/{__version__}"}
        if body is not None:
            headers["Content-Type"] = kind
        if size is not None:
            headers["Content-Length"] = str(size)
        if self._cookies:
            headers["Cookie"] = "; ".join(f"{name}={value}" for name, value in self._cookies.items())
        if self._token:
            headers["X-CSRF-Token"] = self._token
        self._line.request(method, address, body, headers)
        answer = self._line.getresponse()
        for cookie in answer.headers.get_all("Set-Cookie") or ():
            name, _, value = cookie.partition(";")[0].partition("=")
            self._cookies[name.strip()] = value.strip()
        return answer

    def _told(self, answer: http.client.HTTPResponse) -> dict[str, Any]:
        if answer.status >= http.client.MULTIPLE_CHOICES:
            raise self._refusal(answer)
        body = answer.read(_MOST + 1)
        if answer.status == http.client.NO_CONTENT:
            return {}
        try:
            told = json.loads(body) if len(body) <= _MOST else None
        except ValueError:
            told = None
        if not isinstance(told, dict):
            raise self._strange()
        return told

    def _refusal(self, answer: http.client.HTTPResponse) -> StoreError | UsageError:
        """Return what the other side says it will not do."""
        try:
            first = json.loads(answer.read(_MOST))["errors"][0]
            said = " ".join(str(first[name]) for name in ("problem", "remedy") if first[name])
        except (ValueError, KeyError, IndexError, TypeError):
            return self._strange()
        return UsageError(f"{self.place}: {''.join(sign for sign in said if sign.isprintable())[:500]}")

    def _strange(self) -> StoreError:
        return StoreError(
            f"{self.place}: what answers there is no server of Soakage that exchanges. Check the address."
        )

    @contextmanager
    def _heard(self) -> Iterator[None]:
        """Say in words what happens on the way."""
        try:
            yield
        except ssl.SSLCertVerificationError as problem:
            raise StoreError(
                f"{self.place}: its certificate is not trusted ({problem.verify_message}). Nothing was sent. Where it "
                "is signed by an authority of your own, give that with --certificate FILE."
            ) from None
        except (OSError, http.client.HTTPException) as problem:
            told = getattr(problem, "strerror", None) or str(problem) or type(problem).__name__
            raise StoreError(
                f"{self.place}: the connection failed ({told}). What had arrived whole is kept. Do it again: it goes "
                "on with the rest."
            ) from None


def _trusted(certificate: Path | None) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=None if certificate is None else str(certificate))
    except (OSError, ssl.SSLError) as problem:
        raise UsageError(
            f"{certificate}: {problem.strerror or problem}. Give a certificate file (PEM)."
        ) from None
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context
