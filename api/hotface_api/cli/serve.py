"""``hotface serve``: prepare the database, then answer over HTTP until told to stop."""

from __future__ import annotations

import os
import socket
import sys
from contextlib import suppress
from typing import TYPE_CHECKING, Final

import click

from hotface_api.cli.database import Progress, opened, shown_url
from hotface_api.cli.session import LocalError

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication

__all__ = ["COMMANDS", "application"]

_THREADS: Final = 8
_SERVE_EXAMPLE: Final = """\
\b
  gunicorn --worker-class gthread --threads 4 'hotface_api.cli.serve:application()'
"""


def application() -> WSGIApplication:
    """Make the WSGI application from the environment; called once in each worker.

    Other servers take it too: ``gunicorn --worker-class gthread --threads 4
    'hotface_api.cli.serve:application()'``.
    """
    from hotface_api.app import create_app  # noqa: PLC0415 - loads the whole service
    from hotface_api.settings import Settings  # noqa: PLC0415

    return create_app(Settings.from_environment())


def _prepare() -> None:
    """Migrate and load in this process, before any worker starts."""
    from hotface_api.embedded import prepare  # noqa: PLC0415 - loads the whole service

    progress = Progress()
    with opened() as database:
        number = prepare(database, progress=progress)
        progress.close()
        click.echo(f"{shown_url(database)} is at revision {number}", err=True)


@click.command(epilog=_SERVE_EXAMPLE)
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
@click.option("--workers", default=1, show_default=True, type=click.IntRange(1, 256))
@click.option("--no-prepare", is_flag=True, help="Neither migrate nor load before serving.")
def serve(host: str, port: int, workers: int, no_prepare: bool) -> None:
    """Serve the API until interrupted; first migrate the database and load the published data.

    The database is HOTFACE_DATABASE_URL, by default an SQLite file in your data folder.
    For gunicorn in place of the built-in server, run  hotface load  and then:
    """
    _check_free(host, port)
    _check_settings()
    if not no_prepare:
        _prepare()
    _run(host, port, workers)


def _check_settings() -> None:
    """Refuse settings that no worker could start with: each would start, fail and start again."""
    from hotface_api.http.rates import limiter_of  # noqa: PLC0415 - loads the whole service
    from hotface_api.settings import Settings  # noqa: PLC0415

    with opened() as database:
        limiter_of(Settings.from_environment(), database)


def _check_free(host: str, port: int) -> None:
    """Refuse a port in use: the server would share it and half the answers come from elsewhere."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        with socket.socket(family, kind, protocol) as trial:
            if os.name == "posix":  # there it skips only connections that are winding down
                trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind(address)
    except OSError as error:
        raise LocalError(
            f"cannot listen on {host} port {port} ({error.strerror}); choose another with --host"
            " or --port"
        ) from error


def _run(host: str, port: int, workers: int) -> None:
    from granian import Granian  # noqa: PLC0415 - needed by this command only
    from granian.constants import Interfaces  # noqa: PLC0415

    server = Granian(
        "hotface_api.cli.serve:application",
        factory=True,
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=workers,
        blocking_threads=_THREADS,
        log_enabled=False,
    )

    @server.on_startup
    def _announce() -> None:
        shown = f"[{host}]" if ":" in host else host
        with suppress(OSError):  # whoever read our output may be gone; that must not stop us
            click.echo(f"hotface listens on http://{shown}:{port}/v1/  (stop with Ctrl+C)")
            sys.stdout.flush()

    server.serve()


COMMANDS: Final = (serve,)
