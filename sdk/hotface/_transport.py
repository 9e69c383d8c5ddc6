"""The seam between the client and whatever answers: one request in, one response out.

Anything with ``send`` and ``close`` is a transport: a server reached over HTTP, the embedded
service in this process, or a test's own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Protocol, TypeAlias
from urllib.parse import quote, urlencode, urlsplit

from hotface._errors import ConnectionFailed, NotAnAnswer

if TYPE_CHECKING:
    from requests import PreparedRequest, RequestException

__all__ = ["HTTPTransport", "Request", "Response", "Timeout", "Transport", "read_base_url"]

_HERE: Final = frozenset({"localhost", "::1"})
Timeout: TypeAlias = float | tuple[float, float]


@dataclass(frozen=True, slots=True)
class Request:
    """What is asked: method, percent-encoded path, query, headers and body.

    ``patience`` is how many seconds the answer may take beyond the transport's own timeout.
    ``progress`` is told how far a long question is, where whatever answers can tell.
    """

    method: str
    path: str
    query: tuple[tuple[str, str], ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict, repr=False)  # may hold a key
    body: bytes | None = field(default=None, repr=False)
    patience: float = 0.0
    progress: Callable[[int, int], object] | None = field(default=None, repr=False, compare=False)

    @property
    def target(self) -> str:
        """Path and query, percent-encoded."""
        return _target(self.path, self.query) if self.query else self.path

    def under(self, headers: Mapping[str, str]) -> Request:
        """Give the same request with these headers."""
        return Request(
            self.method,
            self.path,
            self.query,
            headers,
            self.body,
            self.patience,
            self.progress,
        )


@lru_cache(maxsize=512)
def _target(path: str, query: tuple[tuple[str, str], ...]) -> str:
    return f"{path}?{urlencode(query, quote_via=quote)}"


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


class _Authorized:
    """Sends the field ``Authorization``; as ``auth``, so that a netrc file cannot replace it."""

    def __init__(self, field: str) -> None:
        self._field = field

    def __call__(self, request: PreparedRequest) -> PreparedRequest:
        request.headers["Authorization"] = self._field
        return request


class HTTPTransport:
    """A service reached over HTTP with a pooled ``requests`` session.

    Parameters
    ----------
    base_url : str
        The service's address, with or without ``/v1``.
    timeout : float or (float, float)
        Seconds to wait for the connection and for the next bytes.
    """

    def __init__(self, base_url: str, timeout: Timeout = (5, 30)) -> None:
        import requests  # noqa: PLC0415 - embedded use needs none of it

        self.base_url = read_base_url(base_url)
        self._timeout = timeout
        self._session = requests.Session()
        self._session.headers.clear()

    def __repr__(self) -> str:
        return f"HTTPTransport({self.base_url!r})"

    @property
    def is_private(self) -> bool:
        """Whether nobody on the way can read along: encrypted, or on this machine."""
        parts = urlsplit(self.base_url)
        host = parts.hostname or ""
        return parts.scheme == "https" or host in _HERE or host.startswith("127.")

    def send(self, request: Request) -> Response:
        """Send a request once; a redirect of anything but a read is refused, not followed."""
        import requests  # noqa: PLC0415 - loaded by now

        headers = {"Accept-Encoding": "gzip", **request.headers}
        authorization = headers.pop("Authorization", None)
        try:
            answer = self._session.request(
                request.method,
                self.base_url + request.target,
                headers=headers,
                data=request.body,
                timeout=self._allowed(request.patience),
                allow_redirects=request.method in ("GET", "HEAD"),
                auth=None if authorization is None else _Authorized(authorization),
            )
        except requests.RequestException as error:
            raise self._failure(error) from error
        if answer.is_redirect:
            place = answer.headers.get("Location", "elsewhere")
            raise NotAnAnswer(
                f"{self.base_url} redirects to {place}; give that address to Client",
                answer.status_code,
            )
        read = {name.lower(): value for name, value in answer.headers.items()}
        return Response(answer.status_code, read, answer.content)

    def _allowed(self, patience: float) -> Timeout:
        """Give the timeout of a request that may take longer than others."""
        if not patience:
            return self._timeout
        connect, reading = (
            self._timeout if isinstance(self._timeout, tuple) else (self._timeout, self._timeout)
        )
        return connect, reading + patience

    def _failure(self, error: RequestException) -> ConnectionFailed | NotAnAnswer:
        """Name cause and next step of a request that got no whole answer."""
        from requests import exceptions as failures  # noqa: PLC0415 - loaded by now

        place = self.base_url
        if isinstance(error, (failures.ChunkedEncodingError, failures.ContentDecodingError)):
            return NotAnAnswer(f"the answer of {place} broke off half way; ask again", cut=True)
        final = isinstance(error, (failures.SSLError, failures.ProxyError))
        if isinstance(error, failures.SSLError):
            text = _secure_failure(str(error))
        elif isinstance(error, failures.ProxyError):
            text = "the proxy did not let it through; check HTTPS_PROXY and NO_PROXY"
        elif isinstance(error, failures.Timeout):
            text = f"no answer in time; allow more than {self._timeout} s with Client(timeout=...)"
        elif "NameResolutionError" in str(error):
            text = "nobody knows that name; check the address, and the connection to the network"
        elif isinstance(error, failures.ConnectionError):
            text = "nothing answers there; check the address, or start it with 'hotface serve'"
        else:
            text = f"the request could not be sent ({type(error).__name__}); check the address"
        return ConnectionFailed(f"{place}: {text}", final=final)

    def close(self) -> None:
        """Close pooled connections."""
        self._session.close()


def _secure_failure(said: str) -> str:
    """Name the cause of a connection that could not be made secure."""
    if "CERTIFICATE" in said.upper():
        return (
            "its certificate was not accepted; check the address and this machine's clock, or give"
            " the file of your own authority as REQUESTS_CA_BUNDLE"
        )
    return "it does not speak https there; check whether the address begins with http:// instead"
