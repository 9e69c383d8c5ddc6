"""Conductivity of mixtures: every rule by name, with what it is good for.

A rule is called as ``RULES[name].function(fractions, conductivities, **options)``: phases on the
last axis, the host or solid first. Rules for two phases take just two. The formulas themselves are
here under their own names; `structures` says which to use for what.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, mixture
from hotface_api.science._beds import kunii_smith, zehner_schluender
from hotface_api.science._bounds import (
    clamp,
    hashin_shtrikman_lower,
    hashin_shtrikman_upper,
    wiener_parallel,
    wiener_series,
)
from hotface_api.science._pairs import (
    cube_in_host,
    exponential_pore_relation,
    hamilton_crosser,
    lewis_nielsen,
    russell,
)
from hotface_api.science._rules import (
    co_continuous,
    differential,
    effective_medium,
    krischer,
    lichtenecker,
    log_mean,
    maxwell,
)

__all__ = [
    "RULES",
    "Rule",
    "clamp",
    "co_continuous",
    "cube_in_host",
    "differential",
    "effective_medium",
    "exponential_pore_relation",
    "hamilton_crosser",
    "hashin_shtrikman_lower",
    "hashin_shtrikman_upper",
    "krischer",
    "kunii_smith",
    "lewis_nielsen",
    "lichtenecker",
    "log_mean",
    "maxwell",
    "russell",
    "wiener_parallel",
    "wiener_series",
    "zehner_schluender",
]


@dataclass(frozen=True, slots=True)
class Rule:
    """One conductivity rule and what is known about it.

    Attributes
    ----------
    name : str
        Stable name.
    title : str
        Name for people.
    function : callable
        ``function(fractions, conductivities, **options)`` -> conductivity [W/(m.K)].
    structure : str
        The structure it describes.
    validity : str
        Where it holds.
    source : str
        Where it is from and how much of that was seen.
    from_memory : bool
        The form was recalled and not checked against the paper.
    phases : int or None
        Number of phases it takes; None is any number.
    needs : tuple of str
        Options that have to be given.
    inside_bounds : bool
        The result never leaves the Hashin-Shtrikman bounds of its inputs.
    """

    name: str
    title: str
    function: Callable[..., FloatArray]
    structure: str
    validity: str
    source: str
    from_memory: bool = False
    phases: int | None = None
    needs: tuple[str, ...] = ()
    inside_bounds: bool = False


def _paired(function: Callable[..., FloatArray]) -> Callable[..., FloatArray]:
    """Let a relation for a host and one other phase take fractions and conductivities."""

    def rule(fractions: ArrayLike, conductivities: ArrayLike, **options: ArrayLike) -> FloatArray:
        parts, each = mixture(fractions, conductivities)
        if each.shape[-1] != 2:  # noqa: PLR2004 - the two of "two phases"
            raise ValueError("this rule takes exactly two phases, the host first")
        return function(each[..., 0], each[..., 1], parts[..., 1], **options)

    return rule


def _exponential(k0: ArrayLike, _k_pore: ArrayLike, porosity: ArrayLike) -> FloatArray:
    return exponential_pore_relation(k0, porosity)


_ALL = (
    Rule(
        name="wiener-parallel",
        title="Parallel layers",
        function=wiener_parallel,
        structure="layers along the heat flow",
        validity="upper limit of any structure; no estimate",
        source="Wiener (1912), cited, not seen",
    ),
    Rule(
        name="wiener-series",
        title="Series layers",
        function=wiener_series,
        structure="layers across the heat flow",
        validity="lower limit of any structure; no estimate",
        source="Wiener (1912), cited, not seen",
    ),
    Rule(
        name="hashin-shtrikman-lower",
        title="Lower Hashin-Shtrikman bound",
        function=hashin_shtrikman_lower,
        structure="isotropic, the worst conductor surrounds the rest",
        validity="rigorous for isotropic mixtures with perfect contact",
        source="Hashin and Shtrikman, J. Appl. Phys. 33, 3125 (1962); N-phase form: McCartney",
        inside_bounds=True,
    ),
    Rule(
        name="hashin-shtrikman-upper",
        title="Upper Hashin-Shtrikman bound",
        function=hashin_shtrikman_upper,
        structure="isotropic, the best conductor surrounds the rest",
        validity="rigorous for isotropic mixtures",
        source="Hashin and Shtrikman, J. Appl. Phys. 33, 3125 (1962); N-phase form: McCartney",
        inside_bounds=True,
    ),
    Rule(
        name="maxwell",
        title="Maxwell-Eucken",
        function=maxwell,
        structure="separate inclusions in a continuous host",
        validity="exact to first order; closed pores and grains in a matrix, any amount",
        source="Maxwell (1873) and Eucken (1932), cited, not seen; N-phase form: McCartney",
        inside_bounds=True,
    ),
    Rule(
        name="effective-medium",
        title="Symmetric effective medium",
        function=effective_medium,
        structure="all phases alike, pores open and connected",
        validity="porosity to about 0.55, or pores above a tenth of the solid's conductivity",
        source="Bruggeman (1935), Landauer (1952), not seen; form confirmed by a description",
        inside_bounds=True,
    ),
    Rule(
        name="differential",
        title="Differential effective medium",
        function=differential,
        structure="inclusions of many sizes, the host always connected",
        validity="wide grading; any porosity",
        source="Bruggeman (1935); recalled form, not checked against the paper",
        from_memory=True,
        inside_bounds=True,
    ),
    Rule(
        name="lichtenecker",
        title="Geometric mean",
        function=lichtenecker,
        structure="none",
        validity="phases within a factor of 3, as in dense rock",
        source="known as Lichtenecker's rule; no text seen",
    ),
    Rule(
        name="krischer",
        title="Series and parallel with a fitted share",
        function=krischer,
        structure="layers in both directions",
        validity="only to interpolate own measurements; series_share 0.05 to 0.3",
        source="known as Krischer's model; no text seen",
        needs=("series_share",),
    ),
    Rule(
        name="co-continuous",
        title="Interpenetrating phases",
        function=co_continuous,
        structure="every phase runs through the body",
        validity="too low for castables and bricks",
        source="Wang et al. (2008), abstract read; recalled form, not checked against the paper",
        from_memory=True,
    ),
    Rule(
        name="russell",
        title="Cubic pores",
        function=_paired(russell),
        structure="cubic closed pores on a lattice",
        validity="cellular brick, as an upper value only; 1 to 7 % above the upper bound",
        source="Russell, J. Am. Ceram. Soc. 18, 1 (1935); recalled form, not checked",
        from_memory=True,
        phases=2,
    ),
    Rule(
        name="lewis-nielsen",
        title="Crowded filler",
        function=_paired(lewis_nielsen),
        structure="filler grains near a densest packing",
        validity="dense aggregate, pores in fired bodies; below the packing limit; not foams",
        source="Lewis and Nielsen (1970); recalled form, not checked against the paper",
        from_memory=True,
        phases=2,
    ),
    Rule(
        name="hamilton-crosser",
        title="Grains that are not round",
        function=_paired(hamilton_crosser),
        structure="angular or fibrous grains in a host",
        validity="grains that conduct better than the host; not pores",
        source="Hamilton and Crosser (1962), not seen; values of n read in a table",
        phases=2,
    ),
    Rule(
        name="exponential-pores",
        title="Exponential decline with porosity",
        function=_paired(_exponential),
        structure="sintered body with burnt-out pores",
        validity="porosity 0.06 to 0.47 (refused above 0.5); pore content ignored",
        source="Zivcova, Gregorova, Pabst and others (2009), abstract read",
        phases=2,
    ),
    Rule(
        name="cube-in-host",
        title="Cube of aggregate in paste",
        function=_paired(cube_in_host),
        structure="dense aggregate in paste",
        validity="concrete; not tied to the isotropic bounds",
        source="Campbell-Allen and Thorne (1963); recalled form, not checked against the paper",
        from_memory=True,
        phases=2,
    ),
    Rule(
        name="kunii-smith",
        title="Bed with gas films",
        function=_paired(kunii_smith),
        structure="loose bed of round grains in gas",
        validity="voids 0.26 to 0.476, grains much better than the gas",
        source="Kunii and Smith, AIChE J. 6, 71 (1960); recalled form, not checked",
        from_memory=True,
        phases=2,
    ),
    Rule(
        name="zehner-schluender",
        title="Bed with point contacts",
        function=_paired(zehner_schluender),
        structure="loose bed of grains in gas",
        validity="grain to gas ratio below about 2000, solids to about 0.8",
        source="Zehner and Schluender (1970); recalled form; validity read in Kandula's abstract",
        from_memory=True,
        phases=2,
    ),
)

RULES: Mapping[str, Rule] = MappingProxyType({rule.name: rule for rule in _ALL})
"""Every rule by name."""
