"""What became of contributed values, and judging them, as methods of the client."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Final, Literal

from hotface._calls import path_of, query_of
from hotface._changing import AskedEntry, Changing, seen_version
from hotface._mix import stated
from hotface._pages import Pages
from hotface._results import items_of, read
from hotface._transport import Request

if TYPE_CHECKING:
    from hotface._entries import Entry, KeyCard, Standing

__all__ = ["Decision", "Reviewing"]

Decision = Literal["accept", "decline", "ask"]
_PAGE: Final = 100


class Reviewing(Changing):
    """Seeing what is one's own or waits, deciding, answering, withdrawing."""

    def contributions(self, state: str | None = None, *, mine: bool | None = None) -> Pages[Entry]:
        """List contributed values: your own, or with a curator's key what waits for review.

        Parameters
        ----------
        state : str, optional
            Only these, such as ``"asked"``.
        mine : bool, optional
            Your own; a curator's key lists the queue unless told.
        """
        query = query_of({"state": state, "mine": mine, "limit": _PAGE, **self._contributed()})
        return Pages(self._caller, Request("GET", path_of("contributions"), query), "Entry")

    def contribution(self, value_id: str) -> Entry:
        """Give one contributed value with its review and how it stands against what is held.

        Raises
        ------
        NotFound
            If there is none, or it waits and is another's.
        """
        path, query = path_of("contributions", value_id), query_of(self._contributed())
        answer = self._caller.answer(Request("GET", path, query))
        found: Entry = read("Entry", answer.data, answer.text)
        return found

    def review(
        self,
        entry: AskedEntry,
        decision: Decision,
        note: str | None = None,
        *,
        version: int | None = None,
        idempotency_key: str | None = None,
    ) -> Standing:
        """Accept, decline or ask about a contributed value. Asks for a curator's key.

        Parameters
        ----------
        entry : Entry, Standing or str
            What was looked at; for an id say its ``version`` too.
        decision : {"accept", "decline", "ask"}
        note : str, optional
            Why, or what is asked; needed to decline and to ask.
        version : int, optional
            The version that was looked at.
        idempotency_key : str, optional
            To make a change again of which no answer came; the error names the key.

        Returns
        -------
        Standing

        Raises
        ------
        Stale
            If it was changed meanwhile.
        NotAllowed
            If the key is no curator's, or the value is your own.
        """
        return self._act(
            entry, "review", {"decision": decision, "note": note}, version, idempotency_key
        )

    def reply(
        self,
        entry: AskedEntry,
        text: str,
        *,
        version: int | None = None,
        idempotency_key: str | None = None,
    ) -> Standing:
        """Answer a curator's question about a value of your own; see ``review``."""
        return self._act(entry, "reply", {"text": text}, version, idempotency_key)

    def withdraw(
        self,
        entry: AskedEntry,
        reason: str,
        *,
        version: int | None = None,
        idempotency_key: str | None = None,
    ) -> Standing:
        """Withdraw a value of your own, its history is kept; see ``review``."""
        return self._act(entry, "withdrawal", {"reason": reason}, version, idempotency_key)

    def review_many(
        self,
        entries: Iterable[Entry | Standing],
        decision: Decision,
        note: str | None = None,
        *,
        idempotency_key: str | None = None,
    ) -> list[Standing]:
        """Decide alike on several contributed values, all or nothing.

        Returns
        -------
        list of Standing
            In the order of the entries.
        """
        looked_at = [seen_version(one, None) for one in entries]
        body = stated(
            {
                "decision": decision,
                "note": note,
                "values": [{"value": value, "version": version} for value, version in looked_at],
            }
        )
        answer = self._change(path_of("reviews"), body, idempotency_key=idempotency_key)
        return [read("Standing", one) for one in items_of(answer.data)]

    def key_card(self) -> KeyCard:
        """Tell whose key this client sends, and how long it holds."""
        answer = self._caller.answer(Request("GET", path_of("key")))
        found: KeyCard = read("KeyCard", answer.data, answer.text)
        return found

    def _act(
        self,
        entry: AskedEntry,
        act: str,
        body: Mapping[str, Any],
        version: int | None,
        idempotency_key: str | None,
    ) -> Standing:
        value_id, seen = seen_version(entry, version)
        path = path_of("values", value_id, act)
        answer = self._change(path, stated(body), version=seen, idempotency_key=idempotency_key)
        found: Standing = read("Standing", answer.data, answer.text)
        return found
