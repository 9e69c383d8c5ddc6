"""The HTTP transport against a real server on the loopback that can misbehave."""

import gzip
import socket
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from hotface import Client, ConnectionFailed, HTTPTransport, NotAnAnswer, Request
from support.scripted import Unhurried

GOOD = b'{"items": [], "next": null, "revision": 1}'


class Handler(BaseHTTPRequestHandler):
    """Answers as the path says and keeps what it was sent."""

    protocol_version = "HTTP/1.1"

    def log_message(self, *_args):
        return

    def answer(self, body=GOOD, status=200, length=None, **headers):
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body) if length is None else length))
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.end_headers()
        self.wfile.write(body)

    def do_GET(self):
        self.server.seen.append((self.command, self.path, dict(self.headers)))
        if "cut" in self.path:
            self.close_connection = True
            return self.answer(GOOD[:10], length=len(GOOD))
        if "gzip" in self.path:
            return self.answer(gzip.compress(GOOD), Content_Encoding="gzip")
        if "broken" in self.path:
            return self.answer(b"no gzip", Content_Encoding="gzip")
        if "moved" in self.path:
            return self.answer(b"", 301, Location="/v1/here")
        if "slow" in self.path:
            self.server.release.wait(5)
        return self.answer()

    def do_POST(self):
        length = int(self.headers["Content-Length"])
        self.server.seen.append((self.command, self.path, self.rfile.read(length)))
        self.answer(b"", 302, Location="https://elsewhere.example/")


@pytest.fixture
def server():
    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as running:
        running.seen = []
        running.release = threading.Event()
        running.address = f"http://127.0.0.1:{running.server_port}"
        thread = threading.Thread(target=running.serve_forever, args=(0.02,))
        thread.start()
        yield running
        running.release.set()
        running.shutdown()
        thread.join()


@pytest.fixture
def asking(server):
    made = []

    def make(prefix="", **options):
        client = Client(server.address + prefix, **{"retries": Unhurried(retries=1), **options})
        made.append(client)
        return client

    yield make
    for client in made:
        client.close()


@pytest.mark.parametrize("prefix", ["", "/", "/v1", "/v1/"])
def test_the_address_may_end_in_any_way(server, asking, prefix):
    asking(prefix).ask("GET", "/v1/x", {"at": ["600 Cel", "20 Cel"]})
    assert server.seen[0][1] == "/v1/x?at=600%20Cel&at=20%20Cel"


def test_a_path_before_v1_is_kept(server, asking):
    asking("/behind/proxy/").ask("GET", "/v1/x")
    assert server.seen[0][1] == "/behind/proxy/v1/x"


def test_the_key_is_sent_whatever_a_netrc_file_says(server, asking, tmp_path, monkeypatch):
    netrc = tmp_path / "netrc"
    netrc.write_text("machine 127.0.0.1 login a password b\n")
    monkeypatch.setenv("NETRC", str(netrc))
    asking(key="hf_abc").ask("GET", "/v1/x")
    assert server.seen[0][2]["Authorization"] == "Bearer hf_abc"


def test_compressed_answers_are_read(asking):
    assert asking().ask("GET", "/v1/gzip").data["revision"] == 1


@pytest.mark.parametrize("path", ["/v1/cut", "/v1/broken"])
def test_half_an_answer_is_asked_for_again_and_then_told(server, asking, path):
    with pytest.raises(NotAnAnswer, match="broke off") as caught:
        asking().ask("GET", path)
    assert caught.value.request_id
    assert len(server.seen) == 2


def test_a_read_follows_a_redirect_but_a_question_with_a_body_does_not(server, asking):
    assert asking().ask("GET", "/v1/moved").data["revision"] == 1
    with pytest.raises(NotAnAnswer, match=r"elsewhere\.example.*give that address"):
        asking().ask("POST", "/v1/estimates", None, {"mix": {}})
    assert server.seen[-1] == ("POST", "/v1/estimates", b'{"mix": {}}')


def test_a_service_that_does_not_answer_in_time_is_told(asking):
    with pytest.raises(ConnectionFailed, match="timeout"):
        asking(timeout=(1, 0.05), retries=0).ask("GET", "/v1/slow")


def test_nothing_listening_is_told_with_the_next_step():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with (
        Client(f"http://127.0.0.1:{port}", retries=Unhurried(retries=1)) as client,
        pytest.raises(ConnectionFailed, match="hotface serve") as caught,
    ):
        client.ask("GET", "/v1/x")
    assert isinstance(caught.value, OSError)


def test_a_certificate_problem_is_final(server):
    with (
        Client(server.address.replace("http", "https"), retries=Unhurried()) as client,
        pytest.raises(ConnectionFailed) as caught,
    ):
        client.ask("GET", "/v1/x")
    assert caught.value.final
    assert "certificate" in str(caught.value)


def test_the_transport_alone_gives_any_status(server):
    transport = HTTPTransport(server.address)
    response = transport.send(Request("GET", "/v1/x"))
    assert (response.status, response.media_type) == (200, "application/json")
    assert server.address in repr(transport)
    transport.close()
