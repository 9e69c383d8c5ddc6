"""Settings, read from the environment once and passed on as a value."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

__all__ = ["DEFAULT_LIMITS", "Settings", "SettingsError"]

DEFAULT_LIMITS: Final[Mapping[str, int]] = {"anonymous": 1200, "key": 6000}
"""Weight a minute of a served application; what a request weighs stands in ``ledger.rates``."""
_REDIS: Final = ("redis://", "rediss://", "redis+unix://")
_MOST_A_MINUTE: Final = 10**9


class SettingsError(ValueError):
    """A setting that cannot be used; the message names the variable and what it may be."""


def _default_url(environ: Mapping[str, str]) -> str:
    home = environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return f"sqlite:///{Path(home) / 'hotface' / 'hotface.sqlite3'}"


def _whole(environ: Mapping[str, str], name: str, default: int) -> int:
    text = environ.get(name, "")
    if not text:
        return default
    if not text.isascii() or not text.isdigit():
        raise SettingsError(f"{name} must be a whole number, not {text!r}")
    return int(text)


def _rate_store(environ: Mapping[str, str]) -> str:
    text = environ.get("HOTFACE_RATE_STORE") or "memory"
    if text not in ("memory", "database") and not text.startswith(_REDIS):
        raise SettingsError(
            "HOTFACE_RATE_STORE must be memory, database or an address like redis://localhost:6379"
        )
    return text


def _rate_limits(environ: Mapping[str, str]) -> Mapping[str, int] | None:
    """Read ``anonymous=1200,key=6000``; what is left out keeps its default."""
    text = environ.get("HOTFACE_RATE_LIMITS", "")
    if text == "off":
        return None
    limits = dict(DEFAULT_LIMITS)
    for part in filter(None, text.split(",")):
        name, _, number = part.strip().partition("=")
        sane = number.isascii() and number.isdigit() and 0 < int(number) <= _MOST_A_MINUTE
        if name not in limits or not sane:
            raise SettingsError(
                "HOTFACE_RATE_LIMITS must be off, or weights a minute like"
                f" anonymous=1200,key=6000, not {text!r}"
            )
        limits[name] = int(number)
    return limits


@dataclass(frozen=True, slots=True)
class Settings:
    """What the service can be told from outside.

    Attributes
    ----------
    database_url : str
        ``HOTFACE_DATABASE_URL``. SQLite in the user's data folder by default; PostgreSQL as
        ``postgresql://user@host/name`` (psycopg 3).
    cache_answers : int
        ``HOTFACE_CACHE_ANSWERS``. Rendered answers kept in memory by each worker; 0 keeps none.
    max_body : int
        ``HOTFACE_MAX_BODY``. Largest request body in bytes.
    trust_proxy : int
        ``HOTFACE_TRUST_PROXY``. How many proxies in front may be believed about address and host.
    rate_store : str
        ``HOTFACE_RATE_STORE``. Where requests are counted: ``memory`` (each worker for itself),
        ``database`` (shared by the workers of this database), or a Redis address.
    rate_limits : mapping or None
        ``HOTFACE_RATE_LIMITS``. Weight a minute by how the caller is known, as in
        ``anonymous=1200,key=6000``, or ``off``. None counts nothing, and is the default of an
        application made in a program.
    log_level : str
        ``HOTFACE_LOG_LEVEL``. ``DEBUG``, ``INFO``, ``WARNING`` or ``ERROR``.
    """

    database_url: str = field(repr=False)  # an address may hold a password: it is never shown
    cache_answers: int = 4096
    max_body: int = 1024 * 1024
    trust_proxy: int = 0
    log_level: str = "INFO"
    rate_store: str = field(default="memory", repr=False)
    rate_limits: Mapping[str, int] | None = None

    @classmethod
    def from_environment(cls, environ: Mapping[str, str] | None = None) -> Settings:
        """Read the ``HOTFACE_*`` variables.

        Raises
        ------
        SettingsError
            For one that makes no sense; the message names it.
        """
        env = os.environ if environ is None else environ
        level = env.get("HOTFACE_LOG_LEVEL", "INFO").upper()
        if level not in ("DEBUG", "INFO", "WARNING", "ERROR"):
            raise SettingsError(
                f"HOTFACE_LOG_LEVEL must be DEBUG, INFO, WARNING or ERROR, not {level!r}"
            )
        return cls(
            database_url=env.get("HOTFACE_DATABASE_URL") or _default_url(env),
            cache_answers=_whole(env, "HOTFACE_CACHE_ANSWERS", 4096),
            max_body=_whole(env, "HOTFACE_MAX_BODY", 1024 * 1024),
            trust_proxy=_whole(env, "HOTFACE_TRUST_PROXY", 0),
            log_level=level,
            rate_store=_rate_store(env),
            rate_limits=_rate_limits(env),
        )
