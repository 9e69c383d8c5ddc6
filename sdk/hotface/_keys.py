"""The API key: held where nothing that prints, pickles or saves can reach it."""

from __future__ import annotations

import os
import re
from typing import Final, NoReturn

__all__ = ["VARIABLE", "Key", "looks_like_key", "named_key"]

VARIABLE: Final = "HOTFACE_KEY"
_SHAPE: Final = re.compile(r"hf_(contributor|curator)_[A-Za-z0-9_-]{20,}")


def looks_like_key(text: str) -> bool:
    """Tell whether a key stands in a text, as it must not in an address."""
    return "hf_" in text and _SHAPE.search(text) is not None


class Key:
    """A key and where it came from. It shows itself only as the field that is sent.

    Parameters
    ----------
    token : str
    origin : str
        Such as ``HOTFACE_KEY``; told when the key is refused.
    """

    __slots__ = ("_token", "origin")

    def __init__(self, token: str, origin: str) -> None:
        token = token.strip()
        if not token or not token.isascii() or not token.isprintable() or " " in token:
            raise ValueError(f"{origin} holds no key, or characters no key has; copy it again")
        self._token = token
        self.origin = origin

    @property
    def given(self) -> bool:
        """Whether the caller gave it for this client, rather than the environment for all."""
        return self.origin != VARIABLE

    def field(self) -> str:
        """Give the value of the field ``Authorization``."""
        return f"Bearer {self._token}"

    def __repr__(self) -> str:
        return f"<key from {self.origin}>"

    def __reduce__(self) -> NoReturn:
        raise TypeError("a key is not written anywhere; open the client again where it is needed")


def named_key(key: str | None) -> Key | None:
    """Take the key that was given, or else that of the environment."""
    if key is not None:
        return Key(key, "key=")
    token = os.environ.get(VARIABLE, "").strip()
    return Key(token, VARIABLE) if token else None
