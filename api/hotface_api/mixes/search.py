"""Which mixes of what is on hand are worth trying: many candidates, the few that none beats.

Candidates are weighed with every uncertain input at its middle, thousands at once and by the very
functions of the estimate; the few that are returned carry their full estimates. Water is not a
free choice: more of it always makes a body lighter and weaker, so each candidate gets what its
grains soak up and its paste needs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from hotface_api.catalogue.reference import Reference
from hotface_api.mixes import told
from hotface_api.mixes.candidates import (
    OnHand,
    drawn_shares,
    sets_with_water,
    subsets,
)
from hotface_api.mixes.checks import check
from hotface_api.mixes.estimate import Estimate, estimate
from hotface_api.mixes.inputs import Gathered, gather, with_amounts
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.mixer import needed_water
from hotface_api.mixes.model import Case, Run, run
from hotface_api.mixes.pareto import front, spread
from hotface_api.mixes.priors import CALIBRATED
from hotface_api.mixes.request import EstimateRequest, Mix, MixError
from hotface_api.mixes.search_request import (
    MAX_CANDIDATES,
    MAX_RESULTS,
    WISHES,
    Musts,
    SearchRequest,
    Wish,
    check_search,
)
from hotface_api.mixes.service import ServiceLimit, prepare_limits, service_limit

__all__ = [
    "MAX_CANDIDATES",
    "MAX_RESULTS",
    "WISHES",
    "Found",
    "Musts",
    "OnHand",
    "SearchRequest",
    "SearchResult",
    "Wish",
    "search",
]

FloatArray = NDArray[np.float64]
Progress = Callable[[int, int], None]

_CHUNK: Final = 8192
_UNFILLED: Final = 0.05
_HELD_BACK: Final = 3
"""How many more of the front are estimated than are returned, for those that fail a must."""


@dataclass(frozen=True, slots=True)
class Found:
    """A mix worth trying: the request that gives it again, and its estimate."""

    request: EstimateRequest
    estimate: Estimate


@dataclass(frozen=True, slots=True)
class SearchResult:
    """The mixes worth trying, and how many candidates met each must."""

    found: tuple[Found, ...]
    looked_at: int
    met: dict[str, int]
    reason: str | None


def search(
    connection: Connection,
    reference: Reference,
    asked: SearchRequest,
    progress: Progress | None = None,
    cap: int = MAX_CANDIDATES,
) -> SearchResult:
    """Search for mixes that meet the musts and that no other beats in every wish.

    Parameters
    ----------
    connection : Connection
    reference : Reference
    asked : SearchRequest
    progress : callable, optional
        Called with how many candidates were looked at and how many there are.
    cap : int
        Most candidates allowed to this caller.

    Returns
    -------
    SearchResult
        Its estimates are those of ``estimate`` for the same request.

    Raises
    ------
    MixError
        If nothing can be searched; the pointer says where.
    """
    check_search(asked, cap)
    field = _Field(connection, reference, asked)
    field.check_all()
    groups = list(subsets(reference, asked.on_hand, asked.candidates, asked.seed))
    field.prepare([parts for parts, _ in groups])
    done = 0
    for parts, count in groups:
        for size in _chunks(count):
            field.weigh(parts, size)
            done += size
            if progress is not None:
                progress(done, asked.candidates)
    return field.result()


def _chunks(count: int) -> Iterator[int]:
    while count > 0:
        size = min(count, _CHUNK)
        yield size
        count -= size


def _names(parts: Sequence[OnHand]) -> tuple[str, ...]:
    return tuple(each.constituent.material for each in parts)


class _Field:
    """Weighs candidates chunk by chunk and keeps the front; memory stays that of one chunk."""

    def __init__(self, connection: Connection, reference: Reference, asked: SearchRequest) -> None:
        self.connection, self.reference, self.asked = connection, reference, asked
        self.costs: FloatArray = np.zeros((0, len(asked.wishes)))
        self.kept: list[EstimateRequest] = []
        self.met = dict.fromkeys(("service_limit", "density", "conductivity", "workable"), 0)
        self.looked_at = 0
        self._groups: dict[tuple[str, ...], tuple[Gathered, ServiceLimit]] = {}
        self._generator = np.random.default_rng([asked.seed, 20_26])

    def _temperatures(self) -> tuple[float, ...]:
        """Give the temperatures candidates are weighed at: that of the must, else room."""
        at = self.asked.musts.conductivity_at
        return (293.15,) if at is None else (at,)

    def _template(self, parts: Sequence[OnHand]) -> EstimateRequest:
        constituents = tuple(
            replace(each.constituent, amount=1.0, amount_kind="parts") for each in parts
        )
        mix = Mix(constituents, 1.0, "ratio_to_binder", self.asked.shares_by)
        return EstimateRequest(
            mix,
            self.asked.state,
            self._temperatures(),
            coverage=self.asked.coverage,
            seed=self.asked.seed,
        )

    def check_all(self) -> None:
        """Look at everything on hand at once, so that a fault points to where it was given.

        Raises
        ------
        MixError
        """
        whole = self._template(self.asked.on_hand)
        try:
            check(whole)
            gather(self.connection, self.reference, whole)
        except MixError as error:
            pointer = error.pointer.replace("#/mix/constituents/", "#/on_hand/")
            if pointer == "#/at/0":
                pointer = "#/musts/conductivity_at"
            raise MixError(pointer, error.message, error.nearest) from error
        check(replace(whole, at=self.asked.at))

    def prepare(self, choices: Sequence[Sequence[OnHand]]) -> None:
        """Gather the inputs of every choice of materials, and all limits with one statement."""
        gathered = []
        for parts in choices:
            template = self._template(parts)
            found = gather(self.connection, self.reference, template)
            told.check_parts(found, template)
            gathered.append(found)
        prepare_limits(self.connection, self.reference, gathered)
        for parts, found in zip(choices, gathered, strict=True):
            key = _names(parts)
            even = dict.fromkeys(key, 1.0 / len(key))
            limit = service_limit(self.connection, self.reference, found, even)
            self._groups[key] = found, limit

    def weigh(self, parts: Sequence[OnHand], count: int) -> None:
        """Look at some candidates of one choice of materials."""
        self.looked_at += count
        gathered, limit = self._groups[_names(parts)]
        proven = limit.low if limit.low is not None else None
        top = limit.high if self.asked.musts.allow_unproven and proven is None else proven
        wanted = self.asked.musts.service_limit_above
        if wanted is not None and (top is None or top < wanted):
            return
        self.met["service_limit"] += count
        shares = drawn_shares(parts, count, self._generator)
        ratio, found, case = self._run(parts, gathered, shares)
        passed = self._passed(found, case)
        if not passed.any():
            return
        costs = self._costs(found, case, top, count)[passed]
        places = np.flatnonzero(passed)
        best = front(costs)
        requests = [
            self._request(parts, shares[:, places[i]], float(ratio[places[i]])) for i in best
        ]
        self._keep(costs[best], requests)

    def _run(
        self, parts: Sequence[OnHand], gathered: Gathered, shares: FloatArray
    ) -> tuple[FloatArray, Run, Case]:
        """Run the model on all candidates at once, inputs at their middles, water as needed."""
        template = self._template(parts)
        amounts = with_amounts(gathered, shares)
        centre = Latent(self.asked.seed, 1, centre=True)
        ratio = needed_water(template, amounts, centre, self.asked.water)
        ratio = np.round(ratio, 3)
        mix = replace(template.mix, water=ratio)  # type: ignore[arg-type] # one a candidate
        case = Case(replace(template, mix=mix), amounts, CALIBRATED)
        return ratio, run(case, centre), case

    def _passed(self, found: Run, case: Case) -> NDArray[np.bool_]:
        musts = self.asked.musts
        workable = found.batch.unfilled <= _UNFILLED
        density, k = found.density(case), found.thermal.draws[0]
        light = np.ones_like(density, dtype=np.bool_)
        if musts.density_below is not None:
            light = density < musts.density_below
        insulates = np.ones_like(light)
        if musts.conductivity_below is not None:
            insulates = k < musts.conductivity_below
        for name, each in (("workable", workable), ("density", light), ("conductivity", insulates)):
            self.met[name] += int(np.broadcast_to(each, density.shape).sum())
        return np.asarray(np.broadcast_to(workable & light & insulates, density.shape))

    def _costs(self, found: Run, case: Case, limit: float | None, count: int) -> FloatArray:
        """Give what each wish wants small."""
        masses = found.batch.masses
        binder = sum(
            (
                mass
                for part, mass in zip(case.gathered.parts, masses, strict=True)
                if part.is_hydraulic
            ),
            np.zeros(1),
        )
        columns = {
            "conductivity": found.thermal.draws[0],
            "density": found.density(case),
            "service_limit": np.full(count, -(limit or 0.0)),
            "binder": binder / sum(masses, np.zeros(1)),
        }
        return np.stack(
            [np.broadcast_to(columns[wish], (count,)) for wish in self.asked.wishes], -1
        )

    def _request(
        self, parts: Sequence[OnHand], shares: FloatArray, water: float
    ) -> EstimateRequest:
        constituents = tuple(
            replace(each.constituent, amount=float(share), amount_kind="parts")
            for each, share in zip(parts, shares, strict=True)
        )
        mix = Mix(constituents, water, "ratio_to_binder", self.asked.shares_by)
        return EstimateRequest(
            mix,
            self.asked.state,
            self._answered_at(),
            coverage=self.asked.coverage,
            seed=self.asked.seed,
        )

    def _answered_at(self) -> tuple[float, ...]:
        """Give the temperatures the returned estimates are answered at."""
        base = EstimateRequest(Mix((), 1.0), self.asked.state, self.asked.at).temperatures()
        at = self.asked.musts.conductivity_at
        return base if at is None or at in base else tuple(sorted((*base, at)))

    def _keep(self, costs: FloatArray, requests: list[EstimateRequest]) -> None:
        """Join a chunk's front to the whole and let go of what is beaten."""
        together = np.concatenate([self.costs, costs])
        every = [*self.kept, *requests]
        best = front(together)
        self.costs, self.kept = together[best], [every[i] for i in best]

    def result(self) -> SearchResult:
        """Estimate the front in full, drop what then fails or is beaten, return it well spread."""
        wanted = self.asked.results
        found: list[Found] = []
        if len(self.kept):
            for place in spread(self.costs, wanted * _HELD_BACK):
                request = self.kept[int(place)]
                answer = estimate(self.connection, self.reference, request)
                if self._holds(answer):
                    found.append(Found(request, answer))
        if found:
            costs = np.array([self._answered(each.estimate) for each in found])
            best = front(costs)
            found = [found[int(best[place])] for place in spread(costs[best], wanted)]
        return SearchResult(
            tuple(found), self.looked_at, dict(self.met), None if found else self._why()
        )

    def _conductivity(self, answer: Estimate) -> float:
        at = self._temperatures()[0]
        point = min(answer.thermal_conductivity, key=lambda each: abs(each.temperature - at))
        return point.range.typical or 0.0

    def _holds(self, answer: Estimate) -> bool:
        musts = self.asked.musts
        density = answer.bulk_density.typical or 0.0
        return (musts.density_below is None or density < musts.density_below) and (
            musts.conductivity_below is None
            or self._conductivity(answer) < musts.conductivity_below
        )

    def _answered(self, answer: Estimate) -> list[float]:
        limit = answer.service_limit
        binder = sum(
            share.mass_fraction
            for share, part in zip(
                answer.composition.constituents, answer.request.mix.constituents, strict=True
            )
            if sets_with_water(self.reference, part)
        )
        columns = {
            "conductivity": self._conductivity(answer),
            "density": answer.bulk_density.typical or 0.0,
            "service_limit": -(limit.low or limit.high or 0.0),
            "binder": binder,
        }
        return [columns[wish] for wish in self.asked.wishes]

    def _why(self) -> str:
        """Say which must stood in the way."""
        if self.met["service_limit"] == 0 and self.asked.musts.service_limit_above is not None:
            return "no choice of these materials has a proven service limit that high"
        for name in ("workable", "density", "conductivity"):
            if self.met[name] == 0:
                words = {
                    "workable": "no candidate has enough paste to fill the gaps of its grains",
                    "density": "no candidate is that light",
                    "conductivity": "no candidate conducts that little",
                }
                return words[name]
        return "no candidate meets all musts together"
