"""From buckets to a fired piece: masses, volumes, water, densities and porosities.

`account` follows a batch through four states. The steps before it, from a bucket to a mass, stand
in `densities` and are offered here too.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import (
    FloatArray,
    checked,
    floats,
    fraction,
    not_negative,
    positive,
    total,
)
from hotface_api.science.densities import (
    ROUNDING,
    absolute_volume,
    crushed_density,
    loose_from_void,
    mass_from_loose,
    porosity_from_density,
    void_fraction_from,
)
from hotface_api.science.hydrates import BOUND_WATER_MOLAR_VOLUME, WATER

__all__ = [
    "BOUND_WATER_VOLUME",
    "STATES",
    "WATER_DENSITY",
    "Account",
    "absolute_volume",
    "account",
    "crushed_density",
    "loose_from_void",
    "mass_from_loose",
    "porosity_from_density",
    "void_fraction_from",
]

STATES = ("fresh", "demoulded", "dried", "fired")
"""The states an `Account` covers, in the order of its state axis."""

WATER_DENSITY = 998.2
"""Density of water at 293 K, computed with the CoolProp reference library [kg/m3]."""

BOUND_WATER_VOLUME = BOUND_WATER_MOLAR_VOLUME / WATER
"""Volume a unit mass of crystal water takes in a hydrate, about [m3/kg]."""


class Account(NamedTuple):
    """What a batch weighs and takes up; leading axes are draws.

    Attributes
    ----------
    masses : ndarray, shape (..., n)
        Dry mass of each constituent as batched [kg].
    absolute_volumes : ndarray, shape (..., n)
        Volume of each constituent in the mix, its own pores included [m3].
    mass_fractions : ndarray, shape (..., n)
        Share of the dry batch mass [-].
    volume_fractions : ndarray, shape (..., n)
        Share of the fresh volume; with `water_fraction` and `air_fraction` they sum to 1 [-].
    water_fraction, air_fraction : ndarray, shape (...)
        Share of the fresh volume that is water outside the grains, and air [-].
    water_free, water_absorbed : ndarray, shape (...)
        Mixing water outside and inside the grains when placed; together all of it [kg].
    water_bound : ndarray, shape (...)
        Part of the mixing water that the hardened binder holds [kg].
    fresh_volume : ndarray, shape (...)
        Yield: volume of the placed mix [m3].
    mass, volume, density, porosity : ndarray, shape (..., 4)
        In each of `STATES` [kg, m3, kg/m3, -]. Porosity counts all that is not solid, water too.
    """

    masses: FloatArray
    absolute_volumes: FloatArray
    mass_fractions: FloatArray
    volume_fractions: FloatArray
    water_fraction: FloatArray
    air_fraction: FloatArray
    water_free: FloatArray
    water_absorbed: FloatArray
    water_bound: FloatArray
    fresh_volume: FloatArray
    mass: FloatArray
    volume: FloatArray
    density: FloatArray
    porosity: FloatArray


def account(
    masses: ArrayLike,
    particle_densities: ArrayLike,
    true_densities: ArrayLike,
    water: ArrayLike,
    *,
    absorption: ArrayLike = 0.0,
    bound_water: ArrayLike = 0.0,
    loss_on_ignition: ArrayLike = 0.0,
    air: ArrayLike = 0.0,
    early_loss: ArrayLike = 0.0,
    drying_change: ArrayLike = 0.0,
    permanent_change: ArrayLike = 0.0,
    bound_left: ArrayLike = 0.0,
    fired_true_densities: ArrayLike | None = None,
    water_density: ArrayLike = WATER_DENSITY,
    bound_water_volume: ArrayLike = BOUND_WATER_VOLUME,
) -> Account:
    """Follow a batch from the mixer to the kiln.

    Parameters
    ----------
    masses : array_like, shape (..., n)
        Dry mass of each constituent [kg].
    particle_densities : array_like, shape (..., n)
        Particle density of grains, true density of powders, above zero [kg/m3].
    true_densities : array_like, shape (..., n)
        Density without any pores, not below the particle density [kg/m3].
    water : array_like, shape (...)
        All water put in, with what damp constituents bring [kg].
    absorption : array_like, shape (..., n)
        Water a constituent soaks up into its own pores [kg/kg].
    bound_water : array_like, shape (..., n)
        Water a constituent binds chemically once hardened; see `hydrates` [kg/kg].
    loss_on_ignition : array_like, shape (..., n)
        Share of the dry constituent lost in firing, 0 to 1; 1 for what burns out [kg/kg].
    air : array_like, shape (...)
        Entrapped or foamed air as a share of the fresh volume, 0 to below 1 [-].
    early_loss : array_like, shape (...)
        Share of the unbound water gone at demoulding, 0 to 1 [-].
    drying_change : array_like, shape (...)
        Linear change from fresh to dried, above -1; shrinkage is negative [-].
    permanent_change : array_like, shape (...)
        Permanent linear change from dried to fired, above -1 [-].
    bound_left : array_like, shape (...)
        Share of the bound water that firing leaves in the body, 0 to 1; above 0 where it was not
        hot enough [-].
    fired_true_densities : array_like, shape (..., n), optional
        Density without pores of what is left after firing; `true_densities` if not given.
    water_density : array_like, shape (...)
        Density of the mixing water, above zero [kg/m3].
    bound_water_volume : array_like, shape (...)
        Volume of a unit mass of bound water [m3/kg].

    Returns
    -------
    Account
        Everything that follows, leading axes broadcast.

    Raises
    ------
    ValueError
        If an argument is outside its range, or a particle density is above the true density.

    Notes
    -----
    Assumed, and to be told to the reader: absorbed water fills pores the grains already have and
    adds no volume; if the grains could soak up more than there is, they share it; bound water is
    limited by the water there is and may be drawn from the grains; the volume does not change
    between placing and demoulding; all bound water counts as bound from demoulding on; dried means
    all unbound water is gone and all bound water is there; fired means the ignition loss and the
    bound water, but for `bound_left`, are gone; linear changes are the same in all directions.
    Mass is conserved exactly: fresh mass = fired mass + bound water lost + unbound water + ignition
    loss.
    Valid while the matrix holds together: no bleeding, no slumping, no bloating.
    """
    solid = _solids(masses, particle_densities, true_densities, fired_true_densities)
    mixing = not_negative(water, "water")
    absorbed = _taken(solid.mass, absorption, mixing, "absorption")
    bound = _taken(solid.mass, bound_water, mixing, "bound_water")
    liquid = (mixing - absorbed) / positive(water_density, "water_density")
    pores = checked(air, "air", 0.0, np.nextafter(1.0, 0.0))
    fresh = (total(solid.volume) + liquid) / (1.0 - pores)
    dried = fresh * _cubed(drying_change, "drying_change")
    fired = dried * _cubed(permanent_change, "permanent_change")
    dry, raw = total(solid.mass), total(solid.mass / solid.true)
    left = solid.mass * (1.0 - fraction(loss_on_ignition, "loss_on_ignition"))
    early = fraction(early_loss, "early_loss") * (mixing - bound)
    each = not_negative(bound_water_volume, "bound_water_volume")
    stays = bound * fraction(bound_left, "bound_left")
    hard = raw + bound * each
    mass, volume, dense = np.broadcast_arrays(
        _stack(dry + mixing, dry + mixing - early, dry + bound, total(left) + stays),
        _stack(fresh, fresh, dried, fired),
        _stack(raw, hard, hard, total(left / solid.fired) + stays * each),
    )
    return Account(
        masses=solid.mass,
        absolute_volumes=solid.volume,
        mass_fractions=solid.mass / dry[..., None],
        volume_fractions=floats(solid.volume / fresh[..., None]),
        water_fraction=floats(liquid / fresh),
        air_fraction=np.broadcast_to(pores, fresh.shape),
        water_free=floats(mixing - absorbed),
        water_absorbed=absorbed,
        water_bound=bound,
        fresh_volume=fresh,
        mass=mass,
        volume=volume,
        density=mass / volume,
        porosity=1.0 - dense / volume,
    )


def _taken(mass: FloatArray, per_mass: ArrayLike, water: FloatArray, name: str) -> FloatArray:
    """Water the constituents take, at most what there is."""
    return floats(np.minimum(total(mass * not_negative(per_mass, name)), water))


class _Solids(NamedTuple):
    """Constituents in one shape (..., n)."""

    mass: FloatArray
    volume: FloatArray
    true: FloatArray
    fired: FloatArray


def _solids(
    masses: ArrayLike, particle: ArrayLike, true: ArrayLike, fired: ArrayLike | None
) -> _Solids:
    """Check the constituents and bring them to one shape."""
    mass, grain, dense, burnt = np.broadcast_arrays(
        not_negative(masses, "masses"),
        positive(particle, "particle_densities"),
        positive(true, "true_densities"),
        positive(true if fired is None else fired, "fired_true_densities"),
    )
    if mass.ndim == 0 or np.any(total(mass) <= 0):
        raise ValueError("masses need a last axis of constituents and a sum above zero")
    if np.any(grain > dense * (1.0 + ROUNDING)):
        raise ValueError("a particle density cannot be above the true density")
    return _Solids(mass, mass / grain, dense, burnt)


def _stack(*columns: FloatArray) -> FloatArray:
    """Put one array for each state on a new last axis."""
    return np.stack(np.broadcast_arrays(*columns), axis=-1)


def _cubed(change: ArrayLike, name: str) -> FloatArray:
    """Volume ratio of a linear change."""
    linear = checked(change, name, np.nextafter(-1.0, 0.0), np.inf)
    return floats((1.0 + linear) ** 3)
