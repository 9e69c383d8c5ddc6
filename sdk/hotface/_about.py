"""What the service says of itself: its version, its data, and what can go wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from hotface._decode import Answered, decode
from hotface._show import html_table

__all__ = ["ProblemKind", "ServiceCard"]


@dataclass(frozen=True, slots=True)
class ServiceCard(Answered):
    """Which service answers, with which data.

    Attributes
    ----------
    service : str
        Name and version.
    database_id : str
        Tells one database from another; revisions count within it.
    revision : int
        The latest revision of the data.
    rules_version : str
        Of the rules by which values become answers.
    links : mapping of str to str
        Where its lists are.
    """

    service: str
    database_id: str
    revision: int
    rules_version: str
    links: Mapping[str, str] = field(hash=False)

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str = "{}") -> ServiceCard:
        """Read what the service says of itself."""
        return decode(cls, {**document, "text": text}, links=dict)

    def __str__(self) -> str:
        return f"{self.service}, data at revision {self.revision}, rules {self.rules_version}"

    def _repr_html_(self) -> str:
        return html_table(str(self), ["list", "address"], [list(one) for one in self.links.items()])


@dataclass(frozen=True, slots=True)
class ProblemKind:
    """One kind of problem: its code, status, and what it means."""

    code: str
    status: int
    title: str
    meaning: str

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> ProblemKind:
        """Read one kind of problem."""
        return decode(cls, document)

    def __str__(self) -> str:
        return f"{self.status} {self.code}: {self.meaning}"
