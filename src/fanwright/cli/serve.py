"""Serve the bay page to a browser here, or to the shop's tablets."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fanwright.cli._records import db_option, json_option

if TYPE_CHECKING:
    from fanwright.web.settings import Settings


@click.command(name="serve")
@db_option
@click.option("--files", type=click.Path(path_type=Path), help="The folder of the records' files.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, prices and units.")
@click.option("--host", default="127.0.0.1", show_default=True, help="The address to listen at.")
@click.option(
    "--port", default=8214, show_default=True, type=click.IntRange(0, 65535), help="0: any free one."
)
@click.option(
    "--name", "names", multiple=True, help="A name or address that tablets type to reach this machine."
)
@click.option("--demo", is_flag=True, help="The demo fleet, without password, for this machine only.")
@click.option("--open", "open_it", is_flag=True, help="Open it in this machine's browser.")
@json_option
def command(
    db: str | None, files: Path | None, shop: Path | None, host: str, port: int, names: tuple[str, ...],
    demo: bool, open_it: bool, as_json: bool,
) -> None:  # fmt: skip
    """Serve the bay page until stopped with Ctrl-C.

    On this machine alone plain http will do. Any other address needs people who may sign in and a
    certificate, which is made here: say with --name what tablets type to reach this machine.
    """
    from fanwright.desk.serve import demo_is_new, prepare_serving
    from fanwright.web.app import release_mark
    from fanwright.web.serving import serve
    from fanwright.web.settings import Settings, is_loopback
    from fanwright.web.tls import checked_names

    if demo and demo_is_new(db):
        click.echo("loading the demo fleet, which takes a while the first time", err=True)
    known_as = checked_names(names) if names else ()
    served = prepare_serving(db, files, demo=demo, loopback=is_loopback(host), names=known_as)
    settings = Settings(
        served.store.place.name, files, shop, served.demo, host, port, known_as,
        served.keys if known_as else None, release_mark(),
    )  # fmt: skip
    serve(settings, served.store, lambda ready: _tell(ready, as_json=as_json, open_it=open_it))


def _tell(settings: Settings, *, as_json: bool, open_it: bool) -> None:
    from fanwright.cli._show import write_json
    from fanwright.web.settings import is_loopback
    from fanwright.web.tls import Certificates, fingerprint

    seal = None if settings.tls is None else fingerprint(Certificates(settings.tls).authority)
    if as_json:
        write_json(
            {
                "address": settings.address,
                "demo": settings.demo,
                "release": settings.release,
                "authority_sha256": seal,
            }
        )
    else:
        click.echo(f"the bay page is at {settings.address}")
        if settings.demo:
            click.echo("this is the demo: whoever sits at this machine may work on it, without password")
        if seal is not None:
            click.echo(f"once on each tablet: {settings.address}install")
            click.echo(f"the authority shown there must have this SHA-256: {seal}")
        if not is_loopback(settings.host):
            click.echo(_square(settings.address))
        click.echo("stop with Ctrl-C")
    sys.stdout.flush()
    if open_it:
        import webbrowser

        webbrowser.open(settings.address)


def _square(address: str) -> str:
    """Draw an address for a tablet's camera."""
    import io

    import segno

    drawn = io.StringIO()
    segno.make_qr(address, error="m").terminal(out=drawn, border=2, compact=True)
    return drawn.getvalue()
