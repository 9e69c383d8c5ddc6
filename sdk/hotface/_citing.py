"""What an answer cites: its sources, from the service it came from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from hotface._errors import HotfaceError
from hotface._show import html_list

if TYPE_CHECKING:
    from hotface._client import Client
    from hotface._records import Source

__all__ = ["Cited", "cited_html"]

_IDS_A_CALL: Final = 50


class Cited:
    """An answer with citations that remembers whom it was asked of."""

    __slots__ = ()

    citations: tuple[str, ...]
    client: Client | None

    def _service(self) -> Client:
        if self.client is None:
            raise HotfaceError(
                "an answer loaded from a file knows no service: load it with"
                " client=Client(...), or call Client(...).bibtex(answer.citations)"
            )
        return self.client

    def bibtex(self) -> str:
        """Give the cited sources as BibTeX.

        Raises
        ------
        HotfaceError
            If the answer was loaded from a file and knows no service.
        """
        return self._service().bibtex(self.citations)

    def sources(self) -> tuple[Source, ...]:
        """Give the cited sources, in the order of ``citations``.

        Raises
        ------
        HotfaceError
            If the answer was loaded from a file and knows no service.
        """
        held: dict[str, Source] = {}
        for start in range(0, len(self.citations), _IDS_A_CALL):
            asked = self.citations[start : start + _IDS_A_CALL]
            held |= {one.id: one for one in self._service().sources(id=list(asked))}
        return tuple(held[name] for name in self.citations if name in held)


def cited_html(answer: Cited) -> str:
    """Write what an answer cites for a notebook; by id alone where the service is not at hand."""
    try:
        return html_list("Sources", answer.sources())
    except HotfaceError:
        return html_list("Sources", answer.citations)
