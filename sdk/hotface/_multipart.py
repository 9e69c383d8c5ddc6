"""A body of several parts (RFC 7578): a file and the words that go with it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping

__all__ = ["multipart"]


def multipart(
    words: Mapping[str, str | None], name: str, filename: str, kind: str, content: bytes
) -> tuple[str, bytes]:
    """Write a body of parts.

    Parameters
    ----------
    words : mapping of str to str or None
        Parts of plain text; ``None`` is left out.
    name, filename, kind : str
        Of the file's part, its name and media type.
    content : bytes
        The file.

    Returns
    -------
    tuple of str and bytes
        The content type and the body.
    """
    boundary = uuid.uuid4().hex
    while boundary.encode() in content:
        boundary = uuid.uuid4().hex
    parts: list[bytes] = []
    for each, text in words.items():
        if text is not None:
            parts.append(_part(boundary, f'name="{each}"', "text/plain; charset=utf-8"))
            parts.append(text.encode() + b"\r\n")
    parts.append(_part(boundary, f'name="{name}"; filename="{filename}"', kind))
    parts.append(content + b"\r\n")
    parts.append(f"--{boundary}--\r\n".encode())
    return f"multipart/form-data; boundary={boundary}", b"".join(parts)


def _part(boundary: str, disposition: str, kind: str) -> bytes:
    return (
        f"--{boundary}\r\nContent-Disposition: form-data; {disposition}\r\n"
        f"Content-Type: {kind}\r\n\r\n"
    ).encode()
