"""The lists and rows of the service, as methods of the client."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from io import BytesIO
from math import isfinite
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, overload

from hotface._asking import Asking
from hotface._calls import Answer, path_of, query_of
from hotface._errors import BadQuantity, NotAnAnswer
from hotface._files import is_zipfile, write_whole
from hotface._pages import Pages
from hotface._quantities import QuantityLike, read_quantity, temperature_text
from hotface._results import items_of, read
from hotface._transport import Request, Response

if TYPE_CHECKING:
    from hotface._about import ProblemKind, ServiceCard
    from hotface._estimate_parts import NearSpecimen
    from hotface._lookups import ConeFiring, Melting
    from hotface._materials import MaterialSummary
    from hotface._records import (
        Caution,
        PropertyDefinition,
        Revision,
        Source,
        Specimen,
        Value,
    )
    from hotface._tables import ClassLimit, Cone, Holding, Phase, Standard

__all__ = ["Lists"]

_PAGE: Final = 200
_NEAR: Final = 5
_SHARE_DIGITS: Final = 9
_IDS_A_CALL: Final = 50
_BIBTEX: Final = "application/x-bibtex"
_ZIP: Final = "application/zip"


class Lists(Asking):
    """Reading lists page by page, and single rows by id."""

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

    def property_definition(self, property_id: str) -> PropertyDefinition:
        """Give the definition of one property."""
        found: PropertyDefinition = self._read("PropertyDefinition", "properties", property_id)
        return found

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
        return tuple(read("Value", row) for row in items_of(answer.data))

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

    def cone_firings(
        self,
        *,
        cone: str | None = None,
        temperature: QuantityLike | None = None,
        series: str | None = None,
        heating_rate: QuantityLike | None = None,
    ) -> ConeFiring:
        """Look up a pyrometric cone: at which temperatures it falls, or which cones lie near one.

        Parameters
        ----------
        cone : str, optional
            Its number as the series writes it, such as ``"6"`` or ``"04"``; or else
        temperature : quantity, optional
            The end of a firing, such as ``"1200 degC"``.
        series : str, optional
            Only this series.
        heating_rate : quantity, optional
            Near the end, such as ``"60 K/h"``; a cone measures heat work.
        """
        parameters = {
            "cone": cone,
            "temperature": None
            if temperature is None
            else temperature_text(temperature, "temperature"),
            "series": series,
            "heating_rate": None
            if heating_rate is None
            else read_quantity(heating_rate, "heating rate", "heating rate").to_query(),
        }
        found: ConeFiring = self._result("ConeFiring", path_of("cone-firings"), parameters)
        return found

    def meltings(self, oxides: Iterable[str]) -> Melting:
        """Look up what oxides that meet do: their lowest published liquid and every point.

        Parameters
        ----------
        oxides : iterable of str
            Such as ``["CaO", "Al2O3", "SiO2"]``.
        """
        asked = [oxides] if isinstance(oxides, str) else list(oxides)
        found: Melting = self._result("Melting", path_of("meltings"), {"oxides": asked})
        return found

    @overload
    def specimens(
        self,
        *,
        near: Mapping[str, float],
        density: QuantityLike | None = ...,
        state: str | None = ...,
        limit: int | None = ...,
    ) -> Pages[NearSpecimen]: ...
    @overload
    def specimens(self, **filters: Any) -> Pages[Specimen]: ...
    def specimens(
        self,
        *,
        near: Mapping[str, float] | None = None,
        density: QuantityLike | None = None,
        state: str | None = None,
        limit: int | None = None,
        **filters: Any,
    ) -> Any:
        """List measured bodies and published curves, or those most like a mix.

        Parameters
        ----------
        near : mapping of str to float, optional
            A dry mix: parts by mass of each material. The measured bodies most like it come,
            the nearest first, each with its ``distance`` and what that is made of.
        density : quantity, optional
            With ``near``: bulk density of the mix.
        state : str, optional
            With ``near``: the state its density is of, such as ``"dried"``.
        limit : int, optional
            How many with ``near`` (5 by default); else how many a page.
        **filters
            Passed on to the service by name, such as ``material=`` or ``q=``.

        Returns
        -------
        Pages of Specimen, or of NearSpecimen with ``near``
        """
        asked = {"state": state, "limit": limit, **filters}
        if density is not None:
            asked["density"] = read_quantity(density, "density", "density").to_query()
        if near is None:
            known = {name: one for name, one in asked.items() if one is not None}
            return self._pages("specimens", "Specimen", **known)
        parts = [f"{material}:{_share(share)}" for material, share in near.items()]
        wanted = {**asked, "near": parts, "limit": _NEAR if limit is None else limit}
        return self._pages("specimens", "NearSpecimen", **wanted)

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

    def phases(self, **filters: Any) -> Pages[Phase]:
        """List melting and invariant points of oxide systems."""
        return self._pages("phases", "Phase", **filters)

    def cones(self, **filters: Any) -> Pages[Cone]:
        """List end points of pyrometric cones."""
        return self._pages("cones", "Cone", **filters)

    def classes(self, **filters: Any) -> Pages[ClassLimit]:
        """List class limits of standards."""
        return self._pages("classes", "ClassLimit", **filters)

    def standards(self, **filters: Any) -> Pages[Standard]:
        """List standards and what they fix."""
        return self._pages("standards", "Standard", **filters)

    def about(self) -> ServiceCard:
        """Tell which service answers, with which data."""
        answer = self._caller.answer(Request("GET", path_of()))
        found: ServiceCard = read("ServiceCard", answer.data, answer.text)
        return found

    def problems(self) -> tuple[ProblemKind, ...]:
        """Give every kind of problem the service can answer with."""
        data = self._caller.answer(Request("GET", path_of("problems"))).data
        return tuple(read("ProblemKind", one) for one in items_of(data))

    def problem(self, code: str) -> ProblemKind:
        """Tell what a problem's code means."""
        data = self._caller.answer(Request("GET", path_of("problems", code))).data
        found: ProblemKind = read("ProblemKind", data)
        return found

    def openapi(self) -> dict[str, Any]:
        """Give the service's own description of its interface (OpenAPI)."""
        return self._caller.answer(Request("GET", path_of("openapi.json"))).data

    def export(self, path: str | PathLike[str], revision: int | None = None) -> Path:
        """Write the whole data set to a file, as a Data Package in a zip.

        Parameters
        ----------
        path : str or path
            The file; it is replaced only once the whole package has come.
        revision : int, optional
            The data as at this revision; by default that of the client, or the latest.

        Returns
        -------
        Path

        Raises
        ------
        NotAnAnswer
            If what came is no whole zip.
        """
        number = self._common.get("revision") if revision is None else revision
        query = query_of({"revision": number})
        request = Request("GET", path_of("export"), query, {"Accept": _ZIP})
        content = self._caller.asked(request, self._whole_zip)
        place = Path(path)
        write_whole(place, content)
        return place

    def _whole_zip(self, response: Response, _kept: object) -> bytes:
        if not is_zipfile(BytesIO(response.body)):
            raise NotAnAnswer(
                f"{self._caller.transport!r} sent no whole zip file; ask again, and check the"
                " proxy between",
                response.status,
            )
        return response.body

    def cautions(self, **filters: Any) -> Pages[Caution]:
        """List hazards with their advice."""
        return self._pages("cautions", "Caution", **filters)


def _share(share: float) -> str:
    """Write a share in plain digits."""
    if isinstance(share, bool) or not isfinite(share) or share <= 0:
        raise BadQuantity(f"a share must be a number above zero, not {share!r}")
    return f"{share:.{_SHARE_DIGITS}f}".rstrip("0").rstrip(".")
