"""The real service for the SDK to ask: in this process, and over a socket."""

from __future__ import annotations

import threading

import pytest
from werkzeug.serving import make_server

from hotface import Client, Mix
from hotface_api.embedded import InProcessTransport


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


@pytest.fixture(scope="session")
def address(service):
    """The application behind a socket."""
    server = make_server("127.0.0.1", 0, service, threaded=True)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


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
