"""The seam between the client and whatever answers: one request in, one response out.

Anything with ``send`` and ``close`` is a transport: a server reached over HTTP, the embedded
service in this process, or a test's own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol, TypeAlias
from urllib.parse import quote, urlencode, urlsplit

import requests
from requests import exceptions as failures

from hotface._errors import ConnectionFailed, NotAnAnswer

if TYPE_CHECKING:
    from requests import PreparedRequest

__all__ = ["HTTPTransport", "Request", "Response", "Timeout", "Transport", "read_base_url"]

Timeout: TypeAlias = float | tuple[float, float]


@dataclass(frozen=True, slots=True)
class Request:
    """What is asked: method, percent-encoded path, query, headers and body."""

    method: str
    path: str
    query: tuple[tuple[str, str], ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes | None = None

    @property
    def target(self) -> str:
        """Path and query, percent-encoded."""
        if not self.query:
            return self.path
        return f"{self.path}?{urlencode(self.query, quote_via=quote)}"

    def with_headers(self, headers: Mapping[str, str]) -> Request:
        """Give the same request with more headers."""
        return replace(self, headers={**self.headers, **headers})


@dataclass(frozen=True, slots=True)
class Response:
    """What came back; header names are lower case."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def media_type(self) -> str:
        """The content type without its parameters."""
        return self.headers.get("content-type", "").partition(";")[0].strip().lower()


class Transport(Protocol):
    """Sends one request and gives the response, whatever its status.

    Raises ``ConnectionFailed`` if nothing answers and ``NotAnAnswer`` if the answer breaks off.
    """

    def send(self, request: Request) -> Response:
        """Send a request once."""
        ...

    def close(self) -> None:
        """Give back what the transport holds."""
        ...


def read_base_url(text: str) -> str:
    """Bring a service's address to the form without trailing slash and without ``/v1``.

    Raises
    ------
    ValueError
        If it is no web address.
    """
    parts = urlsplit(text.strip())
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise ValueError(
            f"{text!r} is not the address of a service; write it like 'https://example.org' or"
            " 'http://127.0.0.1:8000', or leave it out to use the embedded service"
        )
    if parts.query or parts.fragment:
        raise ValueError(f"{text!r} carries a query or fragment; give the address alone")
    return text.strip().rstrip("/").removesuffix("/v1")


class _KeyAuth(requests.auth.AuthBase):
    """Sends the key; as ``auth``, so that a netrc file cannot replace it."""

    def __init__(self, key: str) -> None:
        self._key = key

    def __call__(self, request: PreparedRequest) -> PreparedRequest:
        request.headers["Authorization"] = f"Bearer {self._key}"
        return request


class HTTPTransport:
    """A service reached over HTTP with a pooled ``requests`` session.

    Parameters
    ----------
    base_url : str
        The service's address, with or without ``/v1``.
    key : str, optional
        API key, sent as a bearer token.
    timeout : float or (float, float)
        Seconds to wait for the connection and for the next bytes.
    """

    def __init__(self, base_url: str, key: str | None = None, timeout: Timeout = (5, 30)) -> None:
        self.base_url = read_base_url(base_url)
        self._timeout = timeout
        self._session = requests.Session()
        self._session.headers.clear()
        if key is not None:
            if not key.isascii() or not key.isprintable() or " " in key:
                raise ValueError("the key holds characters no key has; copy it again")
            self._session.auth = _KeyAuth(key)

    def __repr__(self) -> str:
        return f"HTTPTransport({self.base_url!r})"

    def send(self, request: Request) -> Response:
        """Send a request once; a redirect of anything but a read is refused, not followed."""
        try:
            answer = self._session.request(
                request.method,
                self.base_url + request.target,
                headers={"Accept-Encoding": "gzip", **request.headers},
                data=request.body,
                timeout=self._timeout,
                allow_redirects=request.method in ("GET", "HEAD"),
            )
        except requests.RequestException as error:
            raise self._failure(error) from error
        if answer.is_redirect:
            place = answer.headers.get("Location", "elsewhere")
            raise NotAnAnswer(
                f"{self.base_url} redirects to {place}; give that address to Client",
                answer.status_code,
            )
        headers = {name.lower(): value for name, value in answer.headers.items()}
        return Response(answer.status_code, headers, answer.content)

    def _failure(self, error: requests.RequestException) -> ConnectionFailed | NotAnAnswer:
        """Name cause and next step of a request that got no whole answer."""
        place = self.base_url
        if isinstance(error, (failures.ChunkedEncodingError, failures.ContentDecodingError)):
            return NotAnAnswer(f"the answer of {place} broke off half way; ask again", cut=True)
        final = isinstance(error, (failures.SSLError, failures.ProxyError))
        if isinstance(error, failures.SSLError):
            text = "its certificate was not accepted; check the address and this machine's clock"
        elif isinstance(error, failures.ProxyError):
            text = "the proxy did not let it through; check HTTPS_PROXY and NO_PROXY"
        elif isinstance(error, failures.Timeout):
            text = f"no answer in time; allow more than {self._timeout} s with Client(timeout=...)"
        elif isinstance(error, failures.ConnectionError):
            text = "nothing answers there; check the address, or start it with 'hotface serve'"
        else:
            text = f"the request could not be sent ({type(error).__name__}); check the address"
        return ConnectionFailed(f"{place}: {text}", final=final)

    def close(self) -> None:
        """Close pooled connections."""
        self._session.close()
