"""The service inside the caller's process: the same application, called without a socket.

The SDK finds ``open_transport`` by the entry point ``hotface.embedded``. What the application
answers over HTTP it answers here, because it is the same WSGI call.
"""

from __future__ import annotations

import io
import json
import logging
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import unquote_to_bytes

from sqlalchemy import select
from sqlalchemy.exc import SQLAlchemyError

from hotface import ConnectionFailed, Request, Response
from hotface_api.load.loader import Progress, load, loaded_revision
from hotface_api.load.package import PackageError
from hotface_api.settings import Settings, SettingsError
from hotface_api.store.database import Database, DatabaseError
from hotface_api.store.models import Revision
from hotface_api.store.schema import is_current, migrate
from hotface_seed import PACKAGE_PATH

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

__all__ = ["InProcessTransport", "open_transport", "prepare"]

_log = logging.getLogger("hotface.embedded")
_ASKING: Final = frozenset({"/v1/estimates", "/v1/survivals", "/v1/mix-searches", "/v1/linings"})
_READ_ONLY: Final = {
    "type": "/v1/problems/read_only",
    "title": "Read-only",
    "status": 403,
    "detail": (
        "the embedded service is read-only; open it with a key, Client(key=...) or HOTFACE_KEY, or"
        " send this to a service with Client('https://...', key=...)"
    ),
    "code": "read_only",
    "errors": [],
}


class InProcessTransport:
    """Calls a WSGI application in this process.

    Parameters
    ----------
    application : WSGI application
        What answers.
    writable : bool
        Whether requests that change data are passed on.
    closing : callable, optional
        Called once by ``close``.
    """

    def __init__(
        self,
        application: WSGIApplication,
        *,
        writable: bool = False,
        closing: Callable[[], object] | None = None,
    ) -> None:
        self._application = application
        self._writable = writable
        self._closing = closing

    def __repr__(self) -> str:
        """Name what answers, as error messages do."""
        return "the embedded service"

    def send(self, request: Request) -> Response:
        """Answer a request."""
        asks = request.method in ("GET", "HEAD") or request.path in _ASKING
        if not (asks or self._writable):
            body = json.dumps({**_READ_ONLY, "instance": request.path}).encode()
            return Response(403, {"content-type": "application/problem+json"}, body)
        return _call(self._application, _environ(request))

    def close(self) -> None:
        """Close what the service holds open."""
        closing, self._closing = self._closing, None
        if closing is not None:
            closing()


def _environ(request: Request) -> WSGIEnvironment:
    """Write a request the way PEP 3333 has it."""
    path, _, query = request.target.partition("?")
    body = request.body or b""
    environ: WSGIEnvironment = {
        "REQUEST_METHOD": request.method,
        "SCRIPT_NAME": "",
        "PATH_INFO": unquote_to_bytes(path).decode("latin-1") if "%" in path else path,
        "QUERY_STRING": query,
        "SERVER_NAME": "embedded",
        "SERVER_PORT": "80",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "HTTP_HOST": "embedded",
        "CONTENT_LENGTH": str(len(body)),
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": "http",
        "wsgi.input": io.BytesIO(body),
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
        "hotface.embedded": True,  # nothing from outside can set it
    }
    if request.progress is not None:  # a view may tell how far it is
        environ["hotface.progress"] = request.progress
    for name, value in request.headers.items():
        key = name.upper().replace("-", "_")
        environ[key if key == "CONTENT_TYPE" else f"HTTP_{key}"] = value
    return environ


def _call(application: WSGIApplication, environ: WSGIEnvironment) -> Response:
    started: dict[str, Any] = {}

    def start(status: str, headers: list[tuple[str, str]], _exc_info: Any = None) -> Any:
        started["status"] = int(status[:3])
        started["headers"] = {name.lower(): value for name, value in headers}
        return _no_write

    starter: StartResponse = start
    parts: Iterable[bytes] = application(environ, starter)
    try:
        body = b"".join(parts)
    finally:
        close = getattr(parts, "close", None)
        if close is not None:
            close()
    return Response(started["status"], started["headers"], body)


def _no_write(_data: bytes) -> None:
    raise NotImplementedError("the application uses write(), which PEP 3333 keeps for old ones")


def _silent(_resource: str, _done: int, _total: int) -> None:
    return


def prepare(database: Database, *, refresh: bool = True, progress: Progress = _silent) -> int:
    """Bring a database to the schema and the published data of this version.

    Parameters
    ----------
    database : Database
        Need not exist yet.
    refresh : bool
        Whether data already loaded is brought up to date; if not, only an empty database is filled.
    progress : callable, optional
        Called with resource name, rows done and rows in all.

    Returns
    -------
    int
        The revision served.
    """
    with database.read() as connection:
        current = is_current(connection)
    if not current:
        migrate(database)
    with database.read() as connection:
        number: int | None
        if refresh:
            number = loaded_revision(connection, PACKAGE_PATH)
        else:
            newest = Revision.number.desc()
            number = connection.scalar(select(Revision.number).order_by(newest).limit(1))
    return load(database, PACKAGE_PATH, progress).revision if number is None else number


@contextmanager
def _told() -> Iterator[None]:
    """Turn what keeps a database from being used into the SDK's error for it."""
    try:
        yield
    except (DatabaseError, PackageError, SettingsError) as error:
        raise ConnectionFailed(f"the embedded service cannot start: {error}", final=True) from error
    except SQLAlchemyError as error:
        cause = getattr(error, "orig", None) or error
        raise ConnectionFailed(
            f"the embedded service cannot use its database ({cause}); check"
            " HOTFACE_DATABASE_URL, or that the folder can be written",
            final=True,
        ) from error


def open_transport(
    settings: Settings | None = None, *, writable: bool = False
) -> InProcessTransport:
    """Open the embedded service.

    Without settings they are read from the environment; the database in the user's data folder is
    then kept at the data of the installed version. A database named by ``HOTFACE_DATABASE_URL`` may
    be shared, so it is filled only if it is empty.

    Parameters
    ----------
    settings : Settings, optional
        What the service is told; from the environment by default.
    writable : bool
        Whether data may be changed through this transport.

    Raises
    ------
    hotface.ConnectionFailed
        If the database cannot be used; the message says what to do.
    """
    with _told():
        chosen = Settings.from_environment() if settings is None else settings
        chosen = replace(chosen, rate_limits=None)  # nobody shares this process
        own = settings is None and not os.environ.get("HOTFACE_DATABASE_URL")
        database = Database(chosen.database_url)
        try:
            number = prepare(database, refresh=own)
        except BaseException:
            database.close()
            raise
    from hotface_api.app import create_app  # noqa: PLC0415 - `hotface serve` only prepares here

    _log.info("embedded service at revision %d", number)
    application = create_app(chosen, database, pages=False)
    return InProcessTransport(application, writable=writable, closing=database.close)
