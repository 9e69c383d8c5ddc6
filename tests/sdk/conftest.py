"""The real service for the SDK to ask: in this process, and over a socket."""

from __future__ import annotations

import threading
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

import pytest
from werkzeug.serving import make_server

from hotface import Client, Mix
from hotface_api.embedded import InProcessTransport
from support.clubs import club, ledger_url, package, template
from support.doors import doors_of

__all__ = ["club", "ledger_url", "package", "template"]


class Noted:
    """Passes requests on and keeps what went by."""

    def __init__(self, inner):
        self.inner = inner
        self.requests = []
        self.responses = []

    def __repr__(self):
        return repr(self.inner)

    def send(self, request):
        self.requests.append(request)
        self.responses.append(self.inner.send(request))
        return self.responses[-1]

    def close(self):
        self.inner.close()


@pytest.fixture(scope="session")
def service(app):
    """The application over the loaded seed."""
    return app


@contextmanager
def served(application):
    """Put an application behind a socket; gives its address."""
    server = make_server("127.0.0.1", 0, application, threaded=True)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@pytest.fixture(scope="session")
def address(service):
    """The application behind a socket."""
    with served(service) as place:
        yield place


@pytest.fixture
def connect(request, service):
    """Make clients of the service; ``connect(way, **options)``."""
    made = []

    def make(way="embedded", **options):
        if way == "http":
            client = Client(request.getfixturevalue("address"), **options)
        else:
            client = Client(transport=InProcessTransport(service), **options)
        made.append(client)
        return client

    yield make
    for client in made:
        client.close()


@pytest.fixture(params=["embedded", "http"])
def db(request, connect):
    """A client of the real service, both ways."""
    return connect(request.param)


@pytest.fixture
def noted(service):
    """A client that keeps what went by, and its notes."""
    notes = Noted(InProcessTransport(service))
    return Client(transport=notes), notes


@pytest.fixture
def lid():
    """The mix of the club's kiln lid."""
    return Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L")


@dataclass
class Members:
    """The club's people as clients of a service of their own: Ann and Ben, Cleo and Dora curate."""

    ann: Client
    ben: Client
    cleo: Client
    dora: Client
    anyone: Client
    noted: Noted | None
    tokens: tuple[str, ...]


@pytest.fixture(params=["embedded", "http"])
def members(request, club):
    """The club's people, each with their key, both ways."""
    app = doors_of(club).app
    with ExitStack() as stack:
        if request.param == "http":
            place = stack.enter_context(served(app))
            noted = None
            made = [Client(place, key=key) for key in (*club.tokens, None)]
        else:
            noted = Noted(InProcessTransport(app, writable=True))
            made = [Client(transport=noted, key=key) for key in (*club.tokens, None)]
        for client in made:
            stack.enter_context(client)
        yield Members(*made, noted, club.tokens)
