"""Properties every conductivity rule must have, and independent solutions of the implicit ones."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from hotface_api.science import conductivity
from hotface_api.science.conductivity import RULES

searched = settings(database=None, deadline=None)
ANY_PHASES = [name for name, rule in RULES.items() if rule.phases is None and not rule.needs]
WITHOUT_HOST = [name for name in ANY_PHASES if name not in {"maxwell", "differential"}]
PAIRS = [name for name, rule in RULES.items() if rule.phases == 2]
BEDS = {"kunii-smith", "zehner-schluender"}
ROUNDING = 1e-9
# The differential rule is integrated in fixed steps.
STEPPING = 1e-6
NOTHING = 1e-140


@st.composite
def mixtures(draw, most=5):
    count = draw(st.integers(2, most))
    weights = draw(st.lists(st.floats(0.01, 1.0), min_size=count, max_size=count))
    powers = draw(st.lists(st.floats(-7.0, 4.0), min_size=count, max_size=count))
    return np.array(weights) / sum(weights), np.exp(powers)


def bounds(parts, each):
    low = conductivity.hashin_shtrikman_lower(parts, each)
    return low, conductivity.hashin_shtrikman_upper(parts, each)


@searched
@given(mixtures())
def test_isotropic_bounds_lie_inside_layer_bounds(mixture):
    low, high = bounds(*mixture)
    series, parallel = (
        RULES[name].function(*mixture) for name in ("wiener-series", "wiener-parallel")
    )
    order = np.array([series, low, high, parallel])
    assert np.all(np.diff(order) >= -ROUNDING * parallel)


@pytest.mark.parametrize("name", [name for name, rule in RULES.items() if rule.inside_bounds])
@searched
@given(mixtures())
def test_rule_stays_inside_isotropic_bounds(name, mixture):
    low, high = bounds(*mixture)
    found = RULES[name].function(*mixture)
    assert low * (1 - STEPPING) <= found <= high * (1 + STEPPING)


@pytest.mark.parametrize("name", ANY_PHASES)
@searched
@given(mixtures(), st.data())
def test_rule_rises_with_each_conductivity(name, mixture, data):
    parts, each = mixture
    better = each.copy()
    better[data.draw(st.integers(0, len(each) - 1))] *= 1.5
    rule = RULES[name].function
    assert rule(parts, better) >= rule(parts, each) * (1 - ROUNDING)


@pytest.mark.parametrize("name", WITHOUT_HOST)
@searched
@given(mixtures(most=4))
def test_order_of_phases_does_not_matter_without_host(name, mixture):
    parts, each = mixture
    orders = [list(order) for order in itertools.permutations(range(len(each)))]
    found = RULES[name].function(parts[orders], each[orders])
    np.testing.assert_allclose(found, found[0], rtol=1e-9)


@pytest.mark.parametrize("name", ["maxwell", "differential"])
def test_host_may_be_any_phase(name):
    parts, each = np.array([0.2, 0.5, 0.3]), np.array([1.0, 0.3, 0.05])
    rule = RULES[name].function
    turned = rule(np.roll(parts, -1), np.roll(each, -1))
    np.testing.assert_allclose(rule(parts, each, host=1), turned, rtol=1e-12)
    np.testing.assert_allclose(rule(parts, each, host=-2), turned, rtol=1e-12)


@pytest.mark.parametrize("name", ANY_PHASES)
@searched
@given(mixtures(), st.floats(0.01, 100.0))
def test_unit_of_conductivity_does_not_matter(name, mixture, factor):
    parts, each = mixture
    rule = RULES[name].function
    np.testing.assert_allclose(rule(parts, factor * each), factor * rule(parts, each), rtol=1e-9)


@pytest.mark.parametrize("name", [*ANY_PHASES, *PAIRS])
def test_array_gives_what_scalars_give(name):
    rule = RULES[name].function
    shares = np.random.default_rng(4).uniform(0.28, 0.45, (3, 1))
    parts = np.concatenate([1 - shares, shares], axis=-1)
    each = np.random.default_rng(5).uniform(0.02, 2.0, (7, 1, 2))
    table = rule(parts, each)
    assert table.shape == (7, 3)
    for row, column in np.ndindex(7, 3):
        one = rule(parts[column], each[row, 0])
        assert np.shape(one) == ()
        np.testing.assert_allclose(table[row, column], one, rtol=1e-12)


@pytest.mark.parametrize("name", [*ANY_PHASES, *(name for name in PAIRS if name != "kunii-smith")])
def test_equal_phases_give_that_phase(name):
    if name == "exponential-pores":
        return
    found = RULES[name].function([0.65, 0.35], [0.7, 0.7])
    np.testing.assert_allclose(found, 0.7, rtol=1e-12)


@pytest.mark.parametrize("name", [*ANY_PHASES, *PAIRS])
def test_no_inclusions_leave_the_host(name):
    if name in BEDS:
        return
    np.testing.assert_allclose(RULES[name].function([1.0, 0.0], [0.7, 0.1]), 0.7, rtol=1e-9)


@pytest.mark.parametrize(
    "name", ["russell", "hamilton-crosser", "cube-in-host", "maxwell", "effective-medium"]
)
def test_nothing_but_inclusions_leave_those(name):
    np.testing.assert_allclose(RULES[name].function([0.0, 1.0], [0.7, 0.1]), 0.1, rtol=1e-9)


@pytest.mark.parametrize(
    "name", ["maxwell", "effective-medium", "differential", "hamilton-crosser"]
)
def test_few_spheres_act_alone(name):
    share, host, other = 1e-6, 1.0, 0.2
    found = RULES[name].function([1 - share, share], [host, other])
    slope = (found / host - 1.0) / share
    np.testing.assert_allclose(slope, 3 * (other - host) / (other + 2 * host), rtol=1e-4)


@searched
@given(mixtures())
def test_effective_medium_solves_its_equation(mixture):
    parts, each = mixture
    found = conductivity.effective_medium(parts, each)
    root = brentq(
        lambda k: np.sum(parts * (each - k) / (each + 2 * k)),
        each.min() * 0.99,
        each.max() * 1.01,
        xtol=1e-14,
    )
    np.testing.assert_allclose(found, root, rtol=1e-9)


def test_effective_medium_near_and_past_percolation():
    solid = 1 / 3 + np.array([-1e-3, -1e-9, 1e-3])
    found = conductivity.effective_medium(np.stack([solid, 1 - solid], axis=-1), [1.0, 0.0])
    np.testing.assert_allclose(found, [0.0, 0.0, 1.5e-3], atol=1e-12)


def test_effective_medium_of_a_great_contrast_at_percolation():
    parts, each = [1 / 3, 2 / 3], [1.0, 1e-8]
    root = brentq(
        lambda k: sum(p * (e - k) / (e + 2 * k) for p, e in zip(parts, each, strict=True)),
        1e-9,
        1.0,
        xtol=1e-18,
        rtol=1e-14,
    )
    np.testing.assert_allclose(conductivity.effective_medium(parts, each), root, rtol=1e-9)


@searched
@given(st.floats(0.001, 0.999), st.floats(-9.0, 9.0))
def test_differential_meets_the_closed_equation_of_two_phases(kept, power):
    other = np.exp(power)
    found = conductivity.differential([kept, 1 - kept], [1.0, other])

    def closed(log_k):
        return other - np.exp(log_k) - kept * (other - 1.0) * np.exp(log_k / 3)

    exact = brentq(closed, *sorted((0.0, power)), xtol=1e-14) if power else 0.0
    np.testing.assert_allclose(found, np.exp(exact), rtol=1e-6)


def test_differential_of_several_kinds_meets_a_reference_integrator():
    parts, each = np.array([0.15, 0.35, 0.3, 0.2]), np.array([1.3, 0.1, 0.03, 4.0])
    others = parts[1:] / parts[1:].sum()

    def slope(added, k):
        return np.sum(others * (each[1:] - k) * 3 * k / (each[1:] + 2 * k)) / (1 - added)

    exact = solve_ivp(slope, (0, 1 - parts[0]), [each[0]], method="DOP853", rtol=1e-12, atol=1e-14)
    np.testing.assert_allclose(conductivity.differential(parts, each), exact.y[0, -1], rtol=1e-7)


def test_differential_without_host_is_the_mean_of_the_inclusions():
    inside = conductivity.effective_medium([0.4, 0.6], [0.5, 0.1])
    found = conductivity.differential([0.0, 0.4, 0.6], [1.0, 0.5, 0.1])
    np.testing.assert_allclose(found, inside, rtol=1e-6)


def test_pores_and_hosts_that_conduct_nothing():
    empty = [0.6, 0.4], [1.0, 0.0]
    for name in ("wiener-series", "hashin-shtrikman-lower", "co-continuous", "lichtenecker"):
        assert RULES[name].function(*empty) < NOTHING
    for name in ("maxwell", "differential"):
        assert RULES[name].function([0.4, 0.6], [0.0, 1.0]) < NOTHING
    for name in ANY_PHASES:
        assert RULES[name].function([0.5, 0.5], [0.0, 0.0]) < NOTHING


@pytest.mark.parametrize("name", [*ANY_PHASES, *PAIRS])
def test_missing_conductivity_stays_missing(name):
    found = RULES[name].function([0.6, 0.4], [[1.0, 0.1], [np.nan, 0.1], [1.0, np.nan]])
    assert np.isfinite(found[0])
    assert np.isnan(found[1])
    assert np.isnan(found[2]) or name == "exponential-pores"


@pytest.mark.parametrize(
    ("parts", "each", "reason"),
    [
        ([0.5, 0.6], [1.0, 0.1], "sum to 1"),
        ([1.5, -0.5], [1.0, 0.1], "between"),
        ([0.5, 0.5], [1.0, -0.1], "zero or above"),
        ([0.5, 0.5], [1.0, np.inf], "finite"),
        ([0.5, 0.5], [1.0, 0.1, 0.1], "same number of phases"),
        (1.0, 1.0, "last axis"),
        ([0.5, 0.5], 1.0, "same number of phases"),
    ],
)
@pytest.mark.parametrize("name", ANY_PHASES)
def test_unusable_input_is_refused(name, parts, each, reason):
    with pytest.raises(ValueError, match=reason):
        RULES[name].function(parts, each)


@pytest.mark.parametrize("name", PAIRS)
def test_a_pair_takes_two_phases_only(name):
    with pytest.raises(ValueError, match="two phases"):
        RULES[name].function([0.2, 0.3, 0.5], [1.0, 0.5, 0.1])


def test_options_are_refused_outside_their_range():
    with pytest.raises(ValueError, match="packing"):
        conductivity.lewis_nielsen(1.0, 0.1, 0.7)
    with pytest.raises(ValueError, match="sphericity"):
        conductivity.hamilton_crosser(1.0, 2.0, 0.3, sphericity=0.0)
    with pytest.raises(ValueError, match="porosity"):
        conductivity.exponential_pore_relation(1.0, 0.51)
    with pytest.raises(ValueError, match="void_fraction"):
        conductivity.kunii_smith(1.0, 0.03, 0.6)
    with pytest.raises(ValueError, match="k_gas"):
        conductivity.zehner_schluender(1.0, 0.0, 0.4)
    with pytest.raises(ValueError, match="weight"):
        conductivity.log_mean(1.0, 2.0, 1.1)
    with pytest.raises(ValueError, match="series_share"):
        conductivity.krischer([0.5, 0.5], [1.0, 0.1], -0.1)


@searched
@given(mixtures(), st.floats(0.0, 1.0))
def test_krischer_runs_between_the_layer_bounds(mixture, share):
    found = conductivity.krischer(*mixture, share)
    low, high = (RULES[name].function(*mixture) for name in ("wiener-series", "wiener-parallel"))
    assert low * (1 - ROUNDING) <= found <= high * (1 + ROUNDING)


@searched
@given(mixtures())
def test_interpenetrating_phases_run_between_the_layer_bounds(mixture):
    low, high = (RULES[name].function(*mixture) for name in ("wiener-series", "wiener-parallel"))
    assert low * (1 - ROUNDING) <= conductivity.co_continuous(*mixture) <= high * (1 + ROUNDING)


def test_lewis_nielsen_meets_few_spheres_with_another_shape_only():
    slope = conductivity.lewis_nielsen(1.0, 0.2, 1e-6, shape=[1.5, 2.0]) - 1.0
    np.testing.assert_allclose(slope * 1e6, [-2.0 / 1.7, -2.4 / 2.2], rtol=1e-4)


def test_hamilton_crosser_of_spheres_is_maxwell():
    found = conductivity.hamilton_crosser(0.5, 3.0, [0.1, 0.4])
    np.testing.assert_allclose(found, conductivity.maxwell([[0.9, 0.1], [0.6, 0.4]], [0.5, 3.0]))


def test_cubes_with_flat_isotherms_conduct_more_than_the_bound_and_the_strips():
    porosity = np.linspace(0.05, 0.95, 19)
    parts = np.stack([1 - porosity, porosity], axis=-1)
    above = conductivity.russell(1.0, 0.026, porosity) / conductivity.hashin_shtrikman_upper(
        parts, [1.0, 0.026]
    )
    assert np.all((above > 1.0) & (above < 1.08))
    assert np.all(
        conductivity.cube_in_host(1.0, 0.026, porosity) < conductivity.russell(1.0, 0.026, porosity)
    )


@searched
@given(st.floats(0.05, 0.95), st.floats(-3.0, 3.0))
def test_zehner_schluender_runs_between_its_phases(void, power):
    solid = np.exp(power)
    found = conductivity.zehner_schluender(solid, 1.0, void)
    assert min(solid, 1.0) * (1 - ROUNDING) <= found <= max(solid, 1.0) * (1 + ROUNDING)


def test_zehner_schluender_has_no_step_where_the_closed_form_fails():
    void = 0.4
    form = 1.25 * ((1 - void) / void) ** (10 / 9)
    gaps = np.linspace(-0.2, 0.2, 4001)
    found = conductivity.zehner_schluender(form / (1 - gaps), 1.0, void)
    second = np.abs(np.diff(found, 2))
    assert second.max() < 3 * second.min()


def test_zehner_schluender_without_voids_or_grains():
    found = conductivity.zehner_schluender(1.5, 0.03, [0.0, 1.0])
    np.testing.assert_allclose(found, [1.5, 0.03], rtol=1e-5)


def test_kunii_smith_by_hand():
    """Films of 0.05, 0.135 and 0.22 at voids of 0.26, 0.368 and 0.476; grains ten times the gas."""
    found = conductivity.kunii_smith(0.5, 0.05, [0.26, 0.368, 0.476]) / 0.05
    by_hand = [
        0.26 + 0.74 / (0.05 + 1 / 15),
        0.368 + 0.632 / (0.135 + 1 / 15),
        0.476 + 0.524 / (0.22 + 1 / 15),
    ]
    np.testing.assert_allclose(found, by_hand, rtol=1e-12)


def test_cube_in_host_by_hand():
    """A cube of half the side: an eighth of the volume, a quarter of the area in series."""
    found = conductivity.cube_in_host(1.0, 3.0, 1 / 8)
    np.testing.assert_allclose(found, 0.75 + 0.25 / (0.5 / 3.0 + 0.5 / 1.0), rtol=1e-12)


def test_radiation_in_a_bed_counts_as_gas():
    for rule in (conductivity.zehner_schluender, conductivity.kunii_smith):
        np.testing.assert_allclose(rule(1.0, 0.03, 0.4, radiation=0.02), rule(1.0, 0.05, 0.4))


def test_log_mean():
    np.testing.assert_allclose(conductivity.log_mean(2.0, 8.0), 4.0)
    np.testing.assert_allclose(conductivity.log_mean(2.0, 8.0, [0.0, 1.0]), [2.0, 8.0])
    assert conductivity.log_mean(0.0, 8.0) == 0


def test_clamp_brings_an_estimate_inside_the_bounds():
    low, high = bounds([0.6, 0.4], [1.0, 0.1])
    found = conductivity.clamp([0.0, 0.5, 2.0], [0.6, 0.4], [1.0, 0.1])
    np.testing.assert_allclose(found, [low, 0.5, high])


def test_register_of_rules():
    for name, rule in RULES.items():
        assert rule.name == name
        assert rule.validity
        assert rule.structure
        assert rule.source
        recalled = "recalled" in rule.source
        assert rule.from_memory == recalled
    with pytest.raises(TypeError):
        RULES["maxwell"] = RULES["differential"]
