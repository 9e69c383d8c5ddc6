"""Handing in figures, as methods of the client. All of it asks for a key."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from hotface._asking import Progress
from hotface._calls import Answer, path_of, query_of
from hotface._changing import AskedEntry, Changing, key_field, seen_version
from hotface._errors import BadContribution
from hotface._results import read
from hotface._transport import Request

if TYPE_CHECKING:
    from hotface._receipts import Receipt, TableReport
    from hotface._reported import NewMaterial, NewSpecimen, Reported
    from hotface._reported_parts import SourceLike

__all__ = ["Contributing"]

MeasuredBy: TypeAlias = "str | tuple[str, str] | Mapping[str, str]"
_SECONDS_A_VALUE: Final = 0.02


class Contributing(Changing):
    """Handing in figures, and what becomes of them.

    Every change carries an ``Idempotency-Key``, kept while the call is repeated: what is sent again
    because the answer got lost is done once.
    """

    def submit(
        self,
        values: Reported | Mapping[str, Any] | Iterable[Reported | Mapping[str, Any]],
        *,
        licence: str,
        source: SourceLike | None = None,
        material: NewMaterial | None = None,
        measured_by: MeasuredBy | None = None,
        dry_run: bool = False,
        partial: bool = False,
        idempotency_key: str | None = None,
    ) -> Receipt:
        """Hand in figures; they are pending until a curator has accepted them.

        Parameters
        ----------
        values : Reported or iterable of Reported
        licence : str
            What they are given under, such as ``"CC0-1.0"`` or ``"CC-BY-4.0"``.
        source : optional
            Of every figure that names none itself; see ``hotface.doi`` and its neighbours.
        material : NewMaterial, optional
            A material proposed with them.
        measured_by : str, (str, str) or mapping, optional
            Who measured, with ORCID, where that is not the holder of the key.
        dry_run : bool
            Check and compare only; write nothing.
        partial : bool
            Write the good ones and report the others, instead of all or nothing.
        idempotency_key : str, optional
            A key of your own, to repeat the call after this process has ended.

        Returns
        -------
        Receipt
            With how each figure stands against what is held.

        Raises
        ------
        BadContribution
            If a figure is not text, or lacks its unit.
        InvalidRequest
            If something is impossible or cannot be traced; ``errors`` lists every fault.
        Conflict
            If some of it was handed in before.
        KeyNeeded, KeyRefused
        """
        body = self._submission(values, licence, source, material, measured_by)
        answer = self._submit("values", body, dry_run, idempotency_key, partial=partial)
        found: Receipt = read("Receipt", answer.data, answer.text)
        return found

    def submit_specimen(
        self,
        specimen: NewSpecimen | Mapping[str, Any],
        values: Reported | Mapping[str, Any] | Iterable[Reported | Mapping[str, Any]],
        *,
        licence: str,
        source: SourceLike | None = None,
        material: NewMaterial | None = None,
        measured_by: MeasuredBy | None = None,
        dry_run: bool = False,
        idempotency_key: str | None = None,
    ) -> Receipt:
        """Hand in a measured body with its recipe and what was measured on it.

        Parameters are those of ``submit``; ``specimen`` is what was measured.

        Returns
        -------
        Receipt
        """
        body = self._submission(values, licence, source, material, measured_by)
        body["specimen"] = dict(specimen) if isinstance(specimen, Mapping) else specimen.to_json()
        answer = self._submit("specimens", body, dry_run, idempotency_key)
        found: Receipt = read("Receipt", answer.data, answer.text)
        return found

    @staticmethod
    def _submission(
        values: Any,
        licence: str,
        source: SourceLike | None,
        material: NewMaterial | None,
        measured_by: MeasuredBy | None,
    ) -> dict[str, Any]:
        from hotface._reported import Reported, value_json  # noqa: PLC0415 - submissions only
        from hotface._reported_parts import source_json  # noqa: PLC0415

        one = isinstance(values, (Reported, Mapping))
        said = {
            "licence": licence,
            "source": source_json(source),
            "material": None if material is None else material.to_json(),
            "measured_by": _measured_by(measured_by),
            "values": [value_json(each) for each in ([values] if one else values)],
        }
        return {name: value for name, value in said.items() if value is not None}

    def _submit(
        self,
        route: str,
        body: dict[str, Any],
        dry_run: bool,
        idempotency_key: str | None,
        *,
        partial: bool = False,
    ) -> Answer:
        parameters = {"dry_run": dry_run or None, "partial": partial or None}
        return self._change(
            path_of(route),
            body,
            parameters=parameters,
            idempotency_key=idempotency_key,
            patience=_SECONDS_A_VALUE * len(body["values"]),
        )

    def submit_csv(
        self,
        path: str | PathLike[str],
        *,
        licence: str,
        sources: Iterable[Mapping[str, Any]] = (),
        own_measurement: SourceLike | None = None,
        dry_run: bool = False,
        progress: Progress | None = None,
        idempotency_key: str | None = None,
    ) -> TableReport:
        """Hand in a CSV file in the columns of the data package's values, all rows or none.

        Parameters
        ----------
        path : str or path
        licence : str
            What they are given under.
        sources : iterable of mapping
            CSL-JSON items; a row's ``source`` may name their ``id``.
        own_measurement : optional
            What rows with basis ``measured`` were measured on, with and when; made by
            ``hotface.own_measurement``.
        dry_run : bool
            Check and compare only; write nothing.
        progress : callable, optional
            Called with how many rows are done and how many there are: before and after the one
            call in which all are written or none.
        idempotency_key : str, optional
            As in ``submit``.

        Returns
        -------
        TableReport

        Raises
        ------
        BadContribution
            If the file cannot be read.
        InvalidRequest
            If something in it is wrong: ``errors`` names line and column. Nothing is written.
        """
        from hotface._reported_parts import source_json  # noqa: PLC0415 - submissions only

        content = _content(Path(path))
        own = source_json(own_measurement)
        parts = {
            "licence": licence,
            "sources": json.dumps([dict(one) for one in sources]),
            "own_measurement": None if own is None else json.dumps(own.get("own_measurement", own)),
            "dry_run": "true" if dry_run else None,
        }
        rows = max(0, content.count(b"\n") - 1)
        if progress is not None:
            progress(0, rows)
        answer = self._send_table(content, parts, idempotency_key, rows)
        found: TableReport = read("TableReport", answer.data, answer.text)
        if progress is not None:
            progress(len(found), len(found))
        return found

    def _send_table(
        self,
        content: bytes,
        parts: Mapping[str, str | None],
        idempotency_key: str | None,
        rows: int,
    ) -> Answer:
        from hotface._multipart import multipart  # noqa: PLC0415 - needed by files only

        kind, body = multipart(parts, "values", "values.csv", "text/csv", content)
        headers = {"Content-Type": kind, **key_field(idempotency_key)}
        query = query_of({"units": self._common.get("units")})
        request = Request("POST", path_of("values"), query, headers, body, _SECONDS_A_VALUE * rows)
        return self._caller.answer(request)

    def correct(
        self,
        entry: AskedEntry,
        value: Reported | Mapping[str, Any],
        reason: str,
        *,
        version: int | None = None,
        idempotency_key: str | None = None,
    ) -> Receipt:
        """Hand in a figure that takes the place of an older one of your own.

        Parameters
        ----------
        entry : Entry, Standing or str
            What is to be replaced; for an id say its ``version`` too.
        value : Reported
            The whole new figure; source and specimen are kept if left out.
        reason : str

        Returns
        -------
        Receipt
        """
        from hotface._reported import value_json  # noqa: PLC0415 - needed by submissions only

        value_id, seen = seen_version(entry, version)
        answer = self._change(
            path_of("values", value_id, "correction"),
            {"value": value_json(value), "reason": reason},
            version=seen,
            idempotency_key=idempotency_key,
        )
        found: Receipt = read("Receipt", answer.data, answer.text)
        return found


def _measured_by(who: MeasuredBy | None) -> dict[str, str] | None:
    if who is None or isinstance(who, Mapping):
        return None if who is None else dict(who)
    if isinstance(who, str):
        return {"name": who}
    name, orcid = who
    return {"name": name, "orcid": orcid}


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadContribution(f"{path.name} cannot be read: {error.strerror}") from error
