"""The HTTP transport against a real server on the loopback that can misbehave."""

import gzip
import socket
import threading
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from requests import exceptions

from hotface import (
    Client,
    ConnectionFailed,
    HTTPTransport,
    NotAnAnswer,
    OldServer,
    RateLimited,
    Request,
)
from support.scripted import Unhurried

BUSY = b'{"status": 429, "code": "rate_limited", "detail": "wait", "errors": []}'
GOOD = b'{"items": [], "next": null, "revision": 1}'


class Handler(BaseHTTPRequestHandler):
    """Answers as the path says and keeps what it was sent."""

    protocol_version = "HTTP/1.1"

    def date_time_string(self, timestamp=None):  # noqa: ARG002 - the parent's signature
        return format_datetime(self.server.clock, usegmt=True)

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

    def do_GET(self):  # noqa: PLR0911 - one line a way to misbehave
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
        if "away" in self.path:
            return self.answer(b"", 302, Location=self.server.elsewhere)
        if "busy" in self.path:
            later = format_datetime(self.server.clock + timedelta(seconds=7), usegmt=True)
            return self.answer(BUSY, 429, Retry_After=later)
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
        running.clock = datetime(2001, 1, 1, tzinfo=UTC)
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


def test_a_redirect_to_another_host_does_not_carry_the_key(server, asking):
    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as other:
        other.seen, other.clock = [], server.clock
        thread = threading.Thread(target=other.serve_forever, args=(0.02,))
        thread.start()
        server.elsewhere = f"http://localhost:{other.server_port}/v1/x"
        asking(key="hf_abc").ask("GET", "/v1/away")
        other.shutdown()
        thread.join()
    assert server.seen[0][2]["Authorization"] == "Bearer hf_abc"
    assert "Authorization" not in other.seen[0][2]


def test_a_storm_of_429_is_waited_out_by_the_services_own_clock(server, asking):
    policy = Unhurried(retries=2)
    with pytest.raises(RateLimited, match="wait 7 s") as caught:
        asking(retries=policy).ask("GET", "/v1/busy")
    assert policy.waited == [7, 7]
    assert len(server.seen) == 3
    assert caught.value.problem["code"] == "rate_limited"
    assert caught.value.request_id


def test_a_name_nobody_knows_is_told():
    with (
        Client("http://no-such-service.invalid", retries=0) as client,
        pytest.raises(ConnectionFailed, match="nobody knows that name") as caught,
    ):
        client.ask("GET", "/v1/x")
    assert caught.value.request_id


def test_a_certificate_not_yet_valid_points_at_the_clock():
    said = "certificate verify failed: certificate is not yet valid (_ssl.c:1006)"
    transport = HTTPTransport("https://example.org")
    failure = transport._failure(exceptions.SSLError(f"SSLError([SSL: CERTIFICATE_X] {said})"))
    assert "clock" in str(failure)
    assert failure.final
    transport.close()


def test_another_service_at_the_address_is_told(server, asking):
    with pytest.raises(OldServer, match="give the right address"):
        asking().about()


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


def test_https_where_none_is_spoken_is_final(server):
    with (
        Client(server.address.replace("http", "https"), retries=Unhurried()) as client,
        pytest.raises(ConnectionFailed) as caught,
    ):
        client.ask("GET", "/v1/x")
    assert caught.value.final
    assert "does not speak https" in str(caught.value)


def test_the_transport_alone_gives_any_status(server):
    transport = HTTPTransport(server.address)
    response = transport.send(Request("GET", "/v1/x"))
    assert (response.status, response.media_type) == (200, "application/json")
    assert server.address in repr(transport)
    transport.close()
