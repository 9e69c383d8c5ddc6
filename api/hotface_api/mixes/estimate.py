"""The estimate: gather, draw, account, homogenise, learn, summarise."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final, ParamSpec, TypeVar

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from hotface_api.catalogue.cautions import matching_cautions
from hotface_api.catalogue.nearest import NearSpecimen
from hotface_api.catalogue.ranges import Range
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes import told
from hotface_api.mixes.answer import (
    Casting,
    Composition,
    CurvePoint,
    Doubt,
    Draws,
    Estimate,
    Share,
    points_of,
    ranges_of,
)
from hotface_api.mixes.casting import casting_of
from hotface_api.mixes.checks import check
from hotface_api.mixes.classes import closest_class
from hotface_api.mixes.doubt import doubts_of
from hotface_api.mixes.heat import Heat, heat_capacity
from hotface_api.mixes.inputs import gather, gather_many
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.learn import learned
from hotface_api.mixes.model import Case, Run, run
from hotface_api.mixes.nearest import NONE_NEAR, SHOWN, near_bodies
from hotface_api.mixes.priors import CALIBRATED, Priors
from hotface_api.mixes.request import EstimateRequest, MixError
from hotface_api.mixes.service import ServiceLimit, prepare_limits, service_limit
from hotface_api.mixes.strain import Strain, thermal_strain
from hotface_api.mixes.strength import strength_class
from hotface_api.mixes.thermal import method_of
from hotface_api.mixes.validation import Validation, validation_of

__all__ = [
    "MAX_BATCH",
    "Casting",
    "Composition",
    "CurvePoint",
    "Doubt",
    "Draws",
    "Estimate",
    "Share",
    "Validation",
    "estimate",
    "estimate_many",
]

FloatArray = NDArray[np.float64]
P = ParamSpec("P")
Made = TypeVar("Made")
MAX_BATCH: Final = 1000
_STATES: Final = ("fresh", "demoulded", "dried", "fired")


def estimate(
    connection: Connection,
    reference: Reference,
    request: EstimateRequest,
    priors: Priors = CALIBRATED,
) -> Estimate:
    """Estimate the composite of a mix.

    Parameters
    ----------
    connection : Connection
        A few statements are run for what is not kept yet; none for a mix like one before.
    reference : Reference
    request : EstimateRequest
        SI throughout; see ``mixes.request``.
    priors : Priors
        The calibrated part; another than the default only to calibrate.

    Returns
    -------
    Estimate

    Raises
    ------
    MixError
        If the mix makes no sense or a density is missing; the pointer says where.
    """
    return _answered(connection, reference, _case(connection, reference, request, priors))


def _case(
    connection: Connection, reference: Reference, request: EstimateRequest, priors: Priors
) -> Case:
    """Check a request and gather what it needs."""
    check(request)
    gathered = gather(connection, reference, request)
    told.check_parts(gathered, request)
    return Case(request, gathered, priors)


def _answered(connection: Connection, reference: Reference, case: Case) -> Estimate:
    """Draw, learn and put the answer together."""
    first = run(case, Latent(case.request.seed, case.request.draws))
    told.check_mixed(case, first)
    final = learned(case, first)
    before = _before(connection, reference, case, first)
    return _Assembly(connection, reference, case, before, final).estimate()


def _before(connection: Connection, reference: Reference, case: Case, first: Run) -> Run:
    """Give the run that knows nothing the caller measured: no own figures, no weighed bucket.

    Those of a material that is not held stay, because nothing else is known of it.
    """
    parts = tuple(
        replace(part, properties={}, bucket=None, pore_size=None)
        if (part.like or part.material) in reference.materials
        else part
        for part in case.request.mix.constituents
    )
    if parts == case.request.mix.constituents:
        return first
    bare = replace(case.request, mix=replace(case.request.mix, constituents=parts))
    try:
        unknowing = Case(bare, gather(connection, reference, bare), case.priors)
    except MixError:
        return first
    return run(unknowing, Latent(bare.seed, bare.draws))


def estimate_many(
    connection: Connection, reference: Reference, requests: Sequence[EstimateRequest]
) -> list[Estimate | MixError]:
    """Estimate up to ``MAX_BATCH`` mixes in order; a fault is the answer of its own mix.

    The numbers are those of single estimates: each mix has the same named streams of draws.

    Raises
    ------
    MixError
        If there are too many.
    """
    if len(requests) > MAX_BATCH:
        raise MixError("#/mixes", f"at most {MAX_BATCH} mixes in one call")
    gather_many(connection, reference, requests)
    cases = [_tried(_case, connection, reference, request, CALIBRATED) for request in requests]
    sound = [case.gathered for case in cases if isinstance(case, Case)]
    prepare_limits(connection, reference, sound)
    return [
        _tried(_answered, connection, reference, case) if isinstance(case, Case) else case
        for case in cases
    ]


def _tried(work: Callable[P, Made], *given: P.args, **named: P.kwargs) -> Made | MixError:
    """Give what some work makes, or the fault it finds."""
    try:
        return work(*given, **named)
    except MixError as error:
        return error


class _Assembly:
    """Puts the answer together from the last run."""

    def __init__(
        self, connection: Connection, reference: Reference, case: Case, before: Run, final: Run
    ) -> None:
        self.connection, self.reference = connection, reference
        self.case, self.before, self.final = case, before, final
        self.request, self.gathered = case.request, case.gathered
        self.reasons: dict[str, str] = {}

    def estimate(self) -> Estimate:
        """Summarise every output and look up what goes beside it."""
        request, final = self.request, self.final
        heat = heat_capacity(request, self.gathered, final.batch, final.structure, final.latent)
        strain = thermal_strain(request, self.gathered, final.structure, final.latent)
        densities, density = self._densities()
        composition = self._composition()
        fractions = {share.material: share.mass_fraction for share in composition.constituents}
        limit = service_limit(self.connection, self.reference, self.gathered, fractions)
        told.told_of_run(self.case)
        told.told_of_limit(request, self.gathered, limit)
        if limit.reason:
            self.reasons["service_limit"] = limit.reason
        near = near_bodies(
            self.connection, self.reference, request, self.gathered, fractions, density
        )
        if not near:
            self.reasons["nearest_specimens"] = NONE_NEAR
        strength, why = strength_class(request, density, near)
        self._because("strength_class", why)
        likeness, why = closest_class(
            self.connection, self.reference, self.gathered, densities["dried"], limit
        )
        self._because("closest_class", why)
        conductivity = self._conductivity()
        casting = self._casting()
        materials = [part.held_as for part in self.gathered.parts]
        return Estimate(
            request=request,
            revision=self.reference.revision,
            composition=composition,
            densities=densities,
            bulk_density=density,
            thermal_conductivity=conductivity,
            method=method_of(request),
            specific_heat_capacity=self._curve("specific_heat_capacity", heat),
            service_limit=limit,
            doubt_shares=self._doubts(),
            assumptions=(*self.gathered.assumptions, *told.general(self.case)),
            cautions=matching_cautions(self.reference, materials, general=True),
            citations=self._citations(limit, near, casting),
            reasons=self.reasons,
            thermal_strain=self._curve("thermal_strain", strain),
            permanent_change=self._permanent_change(),
            strength_class=strength,
            closest_class=likeness,
            nearest_specimens=near[:SHOWN],
            narrowed_by=self._narrowed(density, conductivity),
            validated_on=validation_of(self.gathered, request),
            moisture=self._moisture(),
            draws=self._draws(heat, strain),
            casting=casting,
        )

    def _because(self, name: str, why: str | None) -> None:
        if why is not None:
            self.reasons[name] = why

    def _curve(self, name: str, found: Heat | Strain) -> tuple[CurvePoint, ...] | None:
        if found.draws is None:
            self._because(name, found.reason)
            return None
        return points_of(self.request.temperatures(), found.draws, self.request.coverage)

    def _densities(self) -> tuple[dict[str, Range], Range]:
        batch = self.final.batch
        rows = [*batch.density.T, self.final.density(self.case)]
        *states, asked = ranges_of(rows, self.request.coverage)
        return dict(zip(_STATES, states, strict=True)), asked

    def _conductivity(self) -> tuple[CurvePoint, ...]:
        at, coverage = self.request.temperatures(), self.request.coverage
        points = points_of(at, self.final.thermal.draws, coverage)
        bounds = self.final.thermal.bounds()
        return tuple(
            CurvePoint(
                point.temperature,
                point.range,
                float(bounds.lower[i]),
                float(bounds.upper[i]),
                float(bounds.series[i]),
                float(bounds.parallel[i]),
            )
            for i, point in enumerate(points)
        )

    def _composition(self) -> Composition:
        batch, coverage = self.final.batch, self.request.coverage
        account = batch.account
        mass = np.median(account.mass_fractions, axis=0)
        volume = np.median(account.volume_fractions, axis=0)
        in_parts = self.request.mix.parts_by is not None
        weighed: Sequence[Range | None] = (
            [None] * len(mass) if in_parts else ranges_of(list(account.masses.T), coverage)
        )
        shares = tuple(
            Share(part.material, float(m), float(v), each)
            for part, m, v, each in zip(
                self.gathered.parts, mass / mass.sum(), volume, weighed, strict=True
            )
        )
        dry = account.masses.sum(-1) if in_parts else np.ones(1)
        water = account.water_free + account.water_absorbed
        rows = [self._porosity(), account.fresh_volume / dry, np.asarray(water / dry)]
        pack = None
        if batch.loose_volume is not None:
            rows.append(account.fresh_volume / batch.loose_volume)
        porosity, yields, wet, *packed = ranges_of(rows, coverage)
        pack = packed[0] if packed else None
        return Composition(shares, porosity, yields, in_parts, wet, pack)

    def _porosity(self) -> FloatArray:
        """Give all that is not solid in the state asked about, water too."""
        structure = self.final.structure
        solid = sum(structure.solids, np.zeros(1)) + structure.bound
        return np.clip(1.0 - solid, 0.0, 1.0)

    def _permanent_change(self) -> Range | None:
        """Give the permanent linear change by firing; shrinkage is negative."""
        if self.request.state.kind != "fired":
            return None
        volume = self.final.batch.account.volume
        return ranges_of([np.cbrt(volume[:, 3] / volume[:, 2]) - 1.0], self.request.coverage)[0]

    def _doubts(self) -> tuple[Doubt, ...]:
        """Share the doubt in conductivity at the middle temperature, and in density."""
        middle = len(self.request.temperatures()) // 2
        latent = self.final.latent
        scored = {
            name: latent.scores(name)
            for name, normals in latent.kept.items()
            if len(normals) == latent.draws
        }
        return doubts_of(
            scored,
            {
                "thermal_conductivity": self.final.thermal.draws[middle],
                "bulk_density": self.final.density(self.case),
            },
            related=self.final.latent.is_learned,
        )

    def _narrowed(self, density: Range, conductivity: Sequence[CurvePoint]) -> dict[str, float]:
        """Tell by what share of its log-width measuring narrowed an interval."""
        if self.before is self.final:
            return {}
        middle = len(conductivity) // 2
        rows = [self.before.density(self.case), self.before.thermal.draws[middle]]
        before = ranges_of(rows, self.request.coverage)
        after = (density, conductivity[middle].range)
        names = ("bulk_density", "thermal_conductivity")
        return {
            name: 1.0 - _width(now) / max(_width(then), 1e-9)
            for name, then, now in zip(names, before, after, strict=True)
        }

    def _moisture(self) -> Range:
        """Give the liquid water of the body by mass of all that is not, in the state."""
        structure, density = self.final.structure, self.final.density(self.case)
        liquid = np.asarray(structure.liquid)
        return ranges_of([liquid / np.maximum(density - liquid, 1e-9)], self.request.coverage)[0]

    def _casting(self) -> Casting | None:
        if self.request.mould is None:
            return None
        return casting_of(self.connection, self.reference, self.case, self.final)

    def _draws(self, heat: Heat, strain: Strain) -> Draws | None:
        """Give the first draws of every output, the temperatures asked for only."""
        count, at = self.request.returned_draws, self.request.temperatures()
        if not count:
            return None
        size = self.final.latent.draws

        def first(rows: FloatArray) -> FloatArray:
            whole = np.broadcast_to(rows, (*np.shape(rows)[:-1], size))
            return np.array(whole[..., :count])

        def curve(rows: FloatArray | None) -> FloatArray | None:
            return None if rows is None else first(rows[: len(at)])

        columns = zip(_STATES, self.final.batch.density.T, strict=True)
        return Draws(
            at,
            first(self.final.density(self.case)),
            {name: first(column) for name, column in columns},
            first(self.final.thermal.draws[: len(at)]),
            curve(heat.draws),
            curve(strain.draws),
        )

    def _citations(
        self, limit: ServiceLimit, near: Sequence[NearSpecimen], casting: Casting | None
    ) -> tuple[str, ...]:
        found = self.gathered.citations | set(limit.citations)
        if casting is not None and casting.drying is not None:
            found |= set(casting.drying.citations)
        found |= {each.specimen["source"] for each in near[:SHOWN] if each.specimen["source"]}
        return tuple(sorted(found))


def _width(found: Range) -> float:
    if found.low is None or found.high is None:  # pragma: no cover - an interval has both
        return math.nan
    return math.log(found.high / max(found.low, 1e-12))
