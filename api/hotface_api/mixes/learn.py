"""Learning from what was measured on the piece: the draws move, and the model is run again.

A density or conductivity moves all uncertain inputs together, each as far as it bears on what was
measured (a log-linear ensemble update, in two steps so that curved answers are followed), and
everything is computed anew from the moved inputs. A piece too light or too heavy for its
constituents is told, and taken to hold more air, or more broken grains, than was assumed; one that
no air and no broken grains explain is refused with what the constituents allow.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes.grains import Whole
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.model import Case, Run, run, state_density
from hotface_api.mixes.request import MixError
from hotface_api.science import sampling

__all__ = ["Observation", "learned", "observations"]

FloatArray = NDArray[np.float64]
_OUTSIDE: Final = 3.0
"""Standard deviations from the middle at which a piece lies outside what its parts allow."""
_STEPS: Final = 2
_MOST_CRUSHED: Final = 0.35
_MOST_ADDED: Final = 0.95
"""No foam holds more air than this: the lightest foamed concretes held are nine tenths air."""
_HALVINGS: Final = 30
_OUTSIDE_BOUNDS: Final = 1.15
"""How far past the bounds a measured conductivity is told: inputs are never exact."""
_LEAST: Final = 1e-6
_FARTHEST: Final = 4.5
"""No input is moved further than this many standard deviations: a measurement that wants more is
told to lie outside, and is not met."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One measured figure: a density in a state, or a conductivity at the last grid point."""

    what: str
    state: str | None
    value: float
    pointer: str = "#/measured"

    def predicted(self, found: Run) -> FloatArray:
        """Give what a run says would be measured, shape (draws,)."""
        if self.state is None:
            return np.asarray(found.thermal.draws[-1])
        return state_density(self.state, found.batch)


def observations(case: Case) -> list[Observation]:
    """List what was measured: the density in the state asked about first."""
    measured, state = case.request.measured, case.request.state.kind
    found = []
    if measured.bulk_density is not None:
        pointer = "#/measured/bulk_density"
        found.append(Observation("bulk density", state, measured.bulk_density, pointer))
    found += [
        Observation(f"{name} density", name, value, f"#/measured/densities/{name}")
        for name, value in sorted(measured.densities.items())
    ]
    if measured.thermal_conductivity is not None:
        found.append(Observation("conductivity", None, measured.thermal_conductivity))
    return found


def learned(case: Case, first: Run) -> Run:
    """Give the run that agrees with what was measured, as far as that can be trusted."""
    observed = observations(case)
    if not observed:
        return first
    found = _whole(case, first, observed)
    apart = any(each.state is None and _past_bounds(found, each.value) for each in observed)
    for _ in range(_STEPS):
        found = _updated(case, found, observed, apart=apart)
    return found


def _whole(case: Case, first: Run, observed: list[Observation]) -> Run:
    """Tell a figure outside what the parts allow, and let air or broken grains account for it."""
    found = first
    for each in observed:
        predicted = np.log(each.predicted(found))
        centre, spread = float(np.median(predicted)), max(float(np.std(predicted)), _LEAST)
        away = (float(np.log(each.value)) - centre) / np.hypot(spread, case.request.measured.spread)
        if each.state is None:
            _tell_bounds(case, found, each.value)
            if abs(away) <= _OUTSIDE:
                continue
            _tell(case, each, predicted, "the calibrated rules")
        elif abs(away) > _OUTSIDE:
            _refuse_impossible(case, each, found)
            _tell(case, each, predicted, "these constituents")
            if found.whole.is_none:
                whole = _air(case, each, found) if away < 0 else _crush(case, each, found)
                found = run(case, found.latent, whole)
    return found


def _tell(case: Case, each: Observation, predicted: FloatArray, who: str) -> None:
    low, high = np.exp(np.quantile(predicted, [0.001, 0.999]))
    unit = "W/(m.K)" if each.state is None else "kg/m3"
    case.gathered.assume(
        "measured_outside",
        f"The measured {each.what} of {each.value:.4g} {unit} lies outside what {who} allow,"
        f" {low:.4g} to {high:.4g} {unit}; check units, moisture, amounts and the measurement.",
    )


def _refuse_impossible(case: Case, each: Observation, found: Run) -> None:
    """Refuse a density that neither air nor broken grains account for.

    Raises
    ------
    MixError
        With what the constituents allow.
    """
    low, high = (float(end) for end in np.quantile(each.predicted(found), [0.001, 0.999]))
    crushed = run(case, found.latent, Whole(crush=_MOST_CRUSHED))
    reach = 1.0 + _OUTSIDE * case.request.measured.spread
    foamed = (1.0 - _MOST_ADDED) * low / reach
    heaviest = max(high, float(np.quantile(each.predicted(crushed), 0.999))) * reach
    if foamed <= each.value <= heaviest:
        return
    raise MixError(
        each.pointer,
        f"the constituents allow a {each.what} of about {low:.0f} to {high:.0f} kg/m3 (as a foam"
        f" down to {foamed:.0f}, with their light grains broken up to {heaviest:.0f}), not"
        f" {each.value:.0f}; check the unit, the moisture, the amounts and the measurement",
    )


def _tell_bounds(case: Case, found: Run, value: float) -> None:
    """Flag a conductivity past the rigorous bounds; it is used all the same."""
    lower, upper = _bounds(found)
    if _past_bounds(found, value):
        case.gathered.assume(
            "measured_outside_bounds",
            f"The measured conductivity of {value:.4g} W/(m.K) lies past the bounds of any"
            f" isotropic body of these parts, {lower:.4g} to {upper:.4g} W/(m.K): an input or the"
            " measurement is off, or the body has a direction.",
        )


def _bounds(found: Run) -> tuple[float, float]:
    bounds = found.thermal.bounds()
    return float(bounds.lower[-1]), float(bounds.upper[-1])


def _past_bounds(found: Run, value: float) -> bool:
    lower, upper = _bounds(found)
    return not lower / _OUTSIDE_BOUNDS <= value <= upper * _OUTSIDE_BOUNDS


def _air(case: Case, each: Observation, found: Run) -> Whole:
    """Take the lightness for air: draw by draw as much as makes the density agree."""
    noise = sampling.normals(case.request.seed, "mix:measured_air", found.latent.draws)
    target = each.value * np.exp(case.request.measured.spread * noise)
    air = np.maximum(1.0 - target / each.predicted(found), 0.0)
    case.gathered.assume(
        "air_from_density",
        f"The piece is lighter than its constituents alone: {100 * float(np.median(air)):.0f} % of"
        " its volume is taken to be air beyond what was assumed, as in a foamed mix.",
    )
    return Whole(air=air)


def _crush(case: Case, each: Observation, found: Run) -> Whole:
    """Take the heaviness for broken light grains, down to a third of their volume."""
    low, high = _MOST_CRUSHED, 1.0

    def central(crush: float) -> float:
        centre = Latent(case.request.seed, 1, centre=True)
        trial = run(case, centre, Whole(crush=crush))
        return float(each.predicted(trial)[0])

    if central(low) <= central(1.0) * (1.0 + _LEAST):
        return Whole()
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if central(middle) > each.value else (low, middle)
    crush = 0.5 * (low + high)
    case.gathered.assume(
        "crush_from_density",
        "The piece is heavier than its constituents alone: its light grains are taken to be"
        f" broken to {100 * crush:.0f} % of their volume.",
    )
    del found
    return Whole(crush=crush)


def _updated(case: Case, found: Run, observed: list[Observation], *, apart: bool) -> Run:
    """Move all normals by one ensemble update with a share of the information, and run again.

    A conductivity past the bounds of these parts cannot tell what they weigh: the inputs that bear
    on masses and volumes are then moved ``apart``, by the measured densities alone.
    """
    names = sorted(found.latent.kept)
    inputs = np.stack([found.latent.kept[name] for name in names], -1)
    moved = _moved(case, found, observed, inputs)
    if apart:
        weighed = [name in found.weighed for name in names]
        densities = [each for each in observed if each.state is not None]
        moved[:, weighed] = inputs[:, weighed]
        if densities:
            moved[:, weighed] = _moved(case, found, densities, inputs[:, weighed])
    moved = np.clip(moved, -_FARTHEST, _FARTHEST)
    normals = {name: np.ascontiguousarray(moved[:, i]) for i, name in enumerate(names)}
    latent = Latent(case.request.seed, case.request.draws, normals)
    return run(case, latent, found.whole)


def _moved(case: Case, found: Run, observed: list[Observation], inputs: FloatArray) -> FloatArray:
    """Update some inputs by some observations."""
    predicted = np.log(np.stack([each.predicted(found) for each in observed], -1))
    stream = "mix:measured_again" if found.latent.is_learned else "mix:measured"
    noise = sampling.normals(case.request.seed, stream, predicted.shape)
    return sampling.ensemble_update(
        inputs,
        predicted,
        np.log([each.value for each in observed]),
        case.request.measured.spread * np.sqrt(_STEPS),
        noise,
    )
