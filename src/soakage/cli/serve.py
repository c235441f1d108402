"""``soakage serve``: the pages, in a browser on this machine."""

from __future__ import annotations

import os
from pathlib import Path

import click


@click.command(name="serve")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8650, show_default=True, help="0 for any that is free."
)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Another than this machine's needs accounts and TLS.",
)
@click.option("--name", "names", multiple=True, help="Host name it is reached by; may be given again.")
@click.option(
    "--store", default="", help="File of the store or address of its database; without it the embedded one."
)
@click.option("--as", "stated_name", default="", help="Your name, stated and not authenticated.")
@click.option(
    "--tls-certificate", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="File for TLS."
)
@click.option("--tls-key", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="File for TLS.")
@click.option("--behind-proxy", is_flag=True, help="A proxy before it does TLS.")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option("--developer", is_flag=True, help="Show the page of all components too.")
def command(
    *,
    port: int,
    host: str,
    names: tuple[str, ...],
    store: str,
    stated_name: str,
    tls_certificate: Path | None,
    tls_key: Path | None,
    behind_proxy: bool,
    no_browser: bool,
    developer: bool,
) -> None:
    """Serve the pages on this machine: no internet, no account, nothing leaves it.

    Bound to another address it refuses to start without accounts and TLS.
    """
    import webbrowser

    from soakage.web.run import serve
    from soakage.web.settings import Settings

    settings = Settings(
        host=host,
        port=port,
        store=store,
        names=tuple(name.lower() for name in names),
        certificate=tls_certificate,
        key=tls_key,
        behind_proxy=behind_proxy,
        stated_name=stated_name,
        developer=developer,
        cache=_cache(),
    )

    def ready(address: str) -> None:
        click.echo(f"Soakage is at {address}  Stop it with Ctrl+C.")
        if not no_browser:
            webbrowser.open(address)

    serve(settings, ready=ready)


def _cache() -> Path:
    base = os.environ.get("LOCALAPPDATA") or os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "soakage"
