"""The lists and rows of the service, as methods of the client."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from hotface._calls import Answer, Caller, path_of, query_of
from hotface._pages import Pages
from hotface._quantities import QuantityLike, temperature_text
from hotface._results import build, read
from hotface._transport import Request

if TYPE_CHECKING:
    from hotface._decode import Row
    from hotface._materials import MaterialSummary
    from hotface._records import (
        Caution,
        Holding,
        PropertyDefinition,
        Revision,
        Source,
        Specimen,
        Value,
    )

__all__ = ["Lists"]

_PAGE: Final = 200
_IDS_A_CALL: Final = 50
_BIBTEX: Final = "application/x-bibtex"
_ZIP: Final = "application/zip"


class Lists:
    """Reading lists page by page, and single rows by id."""

    _caller: Caller
    _common: Mapping[str, Any]

    def _request(
        self, path: str, parameters: Mapping[str, Any] | None = None, accept: str | None = None
    ) -> Request:
        query = query_of({**(parameters or {}), **self._common})
        return Request("GET", path, query, {} if accept is None else {"Accept": accept})

    def _pages(self, route: str, kind: str, /, **filters: Any) -> Pages[Any]:
        request = self._request(path_of(route), {"limit": _PAGE, **filters})
        return Pages(self._caller, request, kind)

    def _one(self, *parts: str) -> Answer:
        return self._caller.answer(self._request(path_of(*parts)))

    def _read(self, kind: str, *parts: str) -> Any:
        return read(kind, self._one(*parts).data)

    def materials(
        self,
        *,
        kind: str | Iterable[str] | None = None,
        family: str | Iterable[str] | None = None,
        q: str | None = None,
        has: str | Iterable[str] | None = None,
        survives: QuantityLike | None = None,
    ) -> Pages[MaterialSummary]:
        """List materials.

        Parameters
        ----------
        kind, family : str or iterable of str, optional
            Only these, such as ``kind="aggregate"``.
        q : str, optional
            Words to look for in names.
        has : str or iterable of str, optional
            Properties of which something must be held.
        survives : str, tuple, Figure or pint.Quantity, optional
            Only materials that survive this temperature.

        Returns
        -------
        Pages of MaterialSummary
        """
        limit = None if survives is None else temperature_text(survives, "survives")
        return self._pages(
            "materials", "MaterialSummary",
            kind=kind, family=family, q=q, has=has, survives=limit,
        )  # fmt: skip

    def properties(self) -> Pages[PropertyDefinition]:
        """List the properties with their definitions and units."""
        return self._pages("properties", "PropertyDefinition")

    def values(
        self,
        *,
        material: str | Iterable[str] | None = None,
        property: str | Iterable[str] | None = None,  # noqa: A002 - the word of the service
        source: str | Iterable[str] | None = None,
        **filters: Any,
    ) -> Pages[Value]:
        """List published figures; further filters are passed on to the service by name."""
        return self._pages(
            "values", "Value",
            material=material, property=property, source=source, **filters,
        )  # fmt: skip

    def value(self, value_id: str) -> Value:
        """Give one published figure."""
        found: Value = self._read("Value", "values", value_id)
        return found

    def history(self, value_id: str) -> tuple[Value, ...]:
        """Give every row a figure has had, oldest first."""
        answer = self._one("values", value_id, "history")
        return tuple(read("Value", row) for row in build(lambda data: data["items"], answer.data))

    def sources(self, **filters: Any) -> Pages[Source]:
        """List the cited texts; filters are passed on to the service by name."""
        return self._pages("sources", "Source", **filters)

    def source(self, source_id: str) -> Source:
        """Give one cited text."""
        found: Source = self._read("Source", "sources", source_id)
        return found

    def bibtex(self, source_ids: Iterable[str]) -> str:
        """Give sources as BibTeX, ready for a reference manager.

        Parameters
        ----------
        source_ids : iterable of str
            Such as ``estimate.citations``.
        """
        ids = [source_ids] if isinstance(source_ids, str) else list(dict.fromkeys(source_ids))
        texts = []
        for start in range(0, len(ids), _IDS_A_CALL):
            asked = {"id": ids[start : start + _IDS_A_CALL], "limit": _PAGE}
            texts.append(self._caller.text(self._request(path_of("sources"), asked, _BIBTEX)))
        return "\n".join(text.strip() + "\n" for text in texts)

    def export(self, path: str | Path, revision: int | None = None) -> Path:
        """Write the whole data set to a file, as one Data Package in a zip.

        Parameters
        ----------
        path : str or Path
            The file; replaced only once the whole answer is here.
        revision : int, optional
            The data as they stood then; the latest by default.
        """
        query = dict(self._common)
        if revision is not None:
            query["revision"] = revision
        request = Request("GET", path_of("export"), query_of(query), {"Accept": _ZIP})
        answer = self._caller.response(request)
        target = Path(path)
        part = target.with_name(f".{target.name}.part")
        part.write_bytes(answer.body)
        part.replace(target)
        return target

    def cone_firings(self, **question: Any) -> Answer:
        """Look up a pyrometric cone: give ``cone`` or ``temperature``; ``heating_rate`` helps."""
        return self._caller.answer(self._request(path_of("cone-firings"), question))

    def meltings(self, oxides: Iterable[str]) -> Answer:
        """Look up what oxides that meet do: their lowest published liquid and every point."""
        return self._caller.answer(self._request(path_of("meltings"), {"oxides": list(oxides)}))

    def specimens(self, **filters: Any) -> Pages[Specimen]:
        """List measured bodies and published curves."""
        return self._pages("specimens", "Specimen", **filters)

    def specimen(self, specimen_id: str) -> Specimen:
        """Give one measured body or curve with its values."""
        found: Specimen = self._read("Specimen", "specimens", specimen_id)
        return found

    def revisions(self) -> Pages[Revision]:
        """List the accepted changes of the data."""
        return self._pages("revisions", "Revision")

    def holdings(self, **filters: Any) -> Pages[Holding]:
        """List what is held and what is missing, by material."""
        return self._pages("holdings", "Holding", **filters)

    def phases(self, **filters: Any) -> Pages[Row]:
        """List melting and invariant points of oxide systems."""
        return self._pages("phases", "Row", **filters)

    def cones(self, **filters: Any) -> Pages[Row]:
        """List end points of pyrometric cones."""
        return self._pages("cones", "Row", **filters)

    def classes(self, **filters: Any) -> Pages[Row]:
        """List class limits of standards."""
        return self._pages("classes", "Row", **filters)

    def standards(self, **filters: Any) -> Pages[Row]:
        """List standards and what they fix."""
        return self._pages("standards", "Row", **filters)

    def cautions(self, **filters: Any) -> Pages[Caution]:
        """List hazards with their advice."""
        return self._pages("cautions", "Caution", **filters)
