"""What a server is started with."""

from __future__ import annotations

import ipaddress
import secrets
from dataclasses import dataclass, field
from pathlib import Path

from soakage.errors import UsageError

MEGABYTE = 1_048_576


@dataclass(frozen=True, slots=True)
class Settings:
    """What a server is started with.

    Parameters
    ----------
    host, port : str, int
        Address it is bound to.
    store : str
        Where the store is: a file or an address of a database; empty for the embedded one.
    names : tuple of str
        Host names it is reached by, besides those of the loopback address.
    certificate, key : Path or None
        Files for TLS.
    behind_proxy : bool
        True where another server in front of it does TLS.
    stated_name : str
        Name of the person on the loopback address, stated and not authenticated.
    developer : bool
        True to serve the page of all components.
    body_limit, upload_limit : int
        Largest body of a request and of an upload, in bytes.
    exchange_limit : int
        Largest bundle that another store may send at a time; it goes to a passing file, never into memory.
    secret : bytes
        What tokens are bound with; new with each start unless given.
    cache : Path or None
        Folder for what may be made again; None to keep it in memory.
    clock_scale : float
        Seconds of a timed sheet in one second: tests run it faster; no command sets it.
    """

    host: str = "127.0.0.1"
    port: int = 8650
    store: str = ""
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None
    behind_proxy: bool = False
    stated_name: str = ""
    developer: bool = False
    body_limit: int = MEGABYTE
    upload_limit: int = 64 * MEGABYTE
    exchange_limit: int = 4096 * MEGABYTE
    secret: bytes = field(default_factory=lambda: secrets.token_bytes(32), repr=False)
    cache: Path | None = None
    clock_scale: float = 1.0

    @property
    def on_loopback(self) -> bool:
        """True where only this machine can reach the server."""
        return is_loopback(self.host)

    @property
    def secure(self) -> bool:
        """True where the browser speaks TLS."""
        return self.certificate is not None or self.behind_proxy


def is_loopback(host: str) -> bool:
    """Return whether an address or name is that of this machine only."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def refuse_if_open(settings: Settings, *, has_accounts: bool) -> None:
    """Refuse to serve others without accounts and TLS.

    Parameters
    ----------
    settings : Settings
        What the server is started with.
    has_accounts : bool
        True where there is at least one account.

    Raises
    ------
    UsageError
        When the address can be reached from other machines and one of the two is missing.
    """
    if (settings.certificate is None) != (settings.key is None):
        raise UsageError("TLS needs both files. Give --tls-certificate and --tls-key together.")
    if settings.on_loopback and not settings.behind_proxy:
        return
    missing = []
    if not has_accounts:
        missing.append("an account (soakage account add NAME --role administer)")
    if not settings.secure:
        missing.append("TLS (--tls-certificate and --tls-key, or --behind-proxy where a proxy does it)")
    if missing:
        raise UsageError(
            f"Soakage does not start at {settings.host}: others could reach it there. "
            f"It needs {' and '.join(missing)}. Without them it serves this machine only: leave out --host."
        )
