"""Conductivity rules by name, for those who want another than the default.

Every rule of ``science.conductivity`` whose form was read in a text can be chosen; those recalled
from memory cannot. A chosen rule is used at every step (pores in a skeleton, voids in the paste,
grains in the paste) and its result is kept inside the Hashin-Shtrikman bounds of what it was given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes.request import MixError
from hotface_api.science import conductivity, kernels

__all__ = ["OPTIONS", "SELECTABLE", "apply_rule", "bounds", "check_rule", "rule_text", "rule_told"]

FloatArray = NDArray[np.float64]
SELECTABLE: Final = tuple(name for name, rule in conductivity.RULES.items() if not rule.from_memory)
_LISTED: Final = ", ".join(SELECTABLE)
OPTIONS: Final = {"krischer": ("series_share",), "hamilton-crosser": ("sphericity",)}
"""The options of those rules that take any."""


def check_rule(name: str, options: Mapping[str, float]) -> None:
    """Refuse a rule that is not known, is recalled only, or lacks or has odd options.

    Raises
    ------
    MixError
        With a pointer into the request.
    """
    rule = conductivity.RULES.get(name)
    if rule is None or rule.from_memory:
        why = "is not known" if rule is None else "is recalled, not read in a text"
        near = tuple(get_close_matches(name, SELECTABLE, 3)) or SELECTABLE
        raise MixError("#/rule", f"the rule {name!r} {why}; choose one of {_LISTED}", near)
    odd = sorted(set(options) - set(OPTIONS.get(name, ())))
    if odd:
        raise MixError(f"#/rule_options/{odd[0]}", f"the rule {name} has no such option")
    for needed in rule.needs:
        if needed not in options:
            raise MixError(f"#/rule_options/{needed}", f"the rule {name} needs {needed}")
    for option, value in options.items():
        if not 0 < value <= 1:
            raise MixError(f"#/rule_options/{option}", "lies above 0 and is at most 1")


def rule_told(name: str) -> str:
    """Say what a rule is, for what structure, where it holds and where it is from."""
    rule = conductivity.RULES[name]
    return f"{rule.title} ({_where(name)})"


def rule_text(name: str) -> str:
    """Say what a chosen rule is and where it holds."""
    return f"{conductivity.RULES[name].title} at every step, as asked ({_where(name)})"


def _where(name: str) -> str:
    rule = conductivity.RULES[name]
    return f"{rule.structure}; valid: {rule.validity}; source: {rule.source}"


def apply_rule(
    name: str,
    options: Mapping[str, float],
    shares: Sequence[FloatArray],
    values: Sequence[FloatArray],
) -> FloatArray:
    """Apply a named rule to a host and what lies in it; a rule for two phases sees one kind.

    Raises
    ------
    MixError
        If the mix lies outside what the rule can be asked.
    """
    rule = conductivity.RULES[name]
    if rule.phases is not None:
        shares, values = _as_pair(shares, values)
    parts = np.stack(np.broadcast_arrays(*shares), -1)
    each = np.stack(np.broadcast_arrays(*values), -1)
    try:
        found = rule.function(parts, each, **options)
        return found if rule.inside_bounds else conductivity.clamp(found, parts, each)
    except ValueError as error:
        raise MixError("#/rule", f"the rule {name} cannot be used here: {error}") from error


def _as_pair(
    shares: Sequence[FloatArray], values: Sequence[FloatArray]
) -> tuple[list[FloatArray], list[FloatArray]]:
    """Replace all inclusions by one kind that disturbs the host alike when dilute."""
    host, others = values[0], values[1:]
    added = np.maximum(np.asarray(sum(shares[2:], shares[1])), 1e-12)
    push = np.asarray(
        sum(
            share / added * (value - host) / (value + 2.0 * host)
            for share, value in zip(shares[1:], others, strict=True)
        )
    )
    merged = host * (1.0 + 2.0 * push) / (1.0 - push)
    if len(others) == 1:
        merged = others[0]
    return [1.0 - added, added], [host, merged]


def bounds(
    shares: Sequence[FloatArray], values: Sequence[FloatArray]
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Give Wiener series, lower and upper Hashin-Shtrikman, and Wiener parallel."""
    least, most = values[0], values[0]
    for value in values[1:]:
        least, most = np.minimum(least, value), np.maximum(most, value)
    return (
        kernels.series(shares, values),
        kernels.referenced(shares, values, least),
        kernels.referenced(shares, values, most),
        kernels.parallel(shares, values),
    )
