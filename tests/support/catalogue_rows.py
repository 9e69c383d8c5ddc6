"""Made-up value rows and reference tables, for testing rules without a database."""

from __future__ import annotations

from itertools import count

from hypothesis import settings

from hotface_api.catalogue.reference import Reference
from hotface_api.catalogue.survival import Question, _answer
from hotface_api.store.models import Value

ZERO = 273.15
searched = settings(database=None, deadline=None)
"""For property tests: a busy machine is no failure, and nothing is kept on disk."""
_COLUMNS = tuple(column.name for column in Value.__table__.columns)
_numbers = count(1)


def value(**given):
    """Make a value row; temperatures in kelvin. One cited journal figure unless told otherwise."""
    row = dict.fromkeys(_COLUMNS)
    number = next(_numbers)
    row |= {
        "id": f"made-up.{number:06d}",
        "material": "grog",
        "property": "service_limit",
        "bound": "is",
        "basis": "read",
        "source": "journal",
        "origin": "one",
        "form": "grain",
        "status": "accepted",
        "version": 1,
        "printed_unit": "Cel",
        "unit": "Cel",
    }
    unknown = set(given) - set(_COLUMNS)
    assert not unknown, unknown
    return row | given


def limit(celsius, high=None, *, role="use_limit", **given):
    """Make a limit row at a temperature in Celsius, or over a span."""
    if high is None:
        figures = {"typical": celsius + ZERO}
    else:
        figures = {"low": celsius + ZERO, "high": high + ZERO}
    return value(**{"role": role, **figures, **given})


def onset(celsius, high=None, *, property="softening_temperature", **given):  # noqa: A002
    """Make a failure onset."""
    return limit(celsius, high, role="failure_onset", property=property, **given)


def conductivity(typical, celsius=None, **given):
    """Make a conductivity row at a temperature in Celsius, or at none stated."""
    kelvin = None if celsius is None else celsius + ZERO
    return value(
        **{
            "property": "thermal_conductivity",
            "typical": typical,
            "temperature_low": kelvin,
            "temperature_high": kelvin,
            "form": "body",
            "state": "dried",
            **given,
        }
    )


def _property(key, **given):
    return {
        "id": key,
        "name": key.replace("_", " ").capitalize(),
        "unit": "W/(m.K)",
        "group": "other",
        "temperature_kind": None,
        "canonical_form": "body",
        "canonical_state": "dried",
        "scale": "log",
        "spread_floor": 0.15,
        "varies_with_temperature": False,
        "minimum": None,
        "maximum": None,
        "need": 1,
    } | given


def _limit_property(key, **given):
    return _property(
        key,
        unit="Cel",
        group="limit",
        temperature_kind="point",
        scale="linear",
        spread_floor=25.0,
        minimum=-273.15,
        maximum=4000.0,
        **given,
    )


PROPERTIES = {
    row["id"]: row
    for row in (
        _property(
            "thermal_conductivity",
            varies_with_temperature=True,
            minimum=0.001,
            maximum=1000.0,
            group="thermal",
        ),
        _property(
            "loose_bulk_density",
            unit="kg/m3",
            group="density",
            canonical_form="heap",
            canonical_state="as-supplied",
        ),
        _property(
            "thermal_strain",
            unit="%",
            scale="linear",
            spread_floor=0.05,
            varies_with_temperature=True,
            group="expansion",
            canonical_form="solid",
        ),
        _property(
            "emissivity",
            unit="1",
            scale="linear",
            spread_floor=0.05,
            minimum=0.0,
            maximum=1.0,
            varies_with_temperature=True,
            canonical_state="fired",
        ),
        _property(
            "oxide_Al2O3",
            unit="%",
            scale="linear",
            spread_floor=1.0,
            minimum=0.0,
            maximum=100.0,
            group="chemistry",
            canonical_form="solid",
        ),
        _property(
            "inversion_step",
            unit="%",
            scale="linear",
            spread_floor=0.05,
            group="expansion",
            canonical_form="solid",
        ),
        _property(
            "pyrometric_cone_equivalent",
            unit="{cone}",
            scale="ordinal",
            spread_floor=1.0,
            group="limit",
        ),
        *(
            _limit_property(key)
            for key in (
                "service_limit",
                "softening_temperature",
                "melting_temperature",
                "decomposition_temperature",
                "transformation_temperature",
                "refractoriness",
            )
        ),
    )
}

SOURCES = {
    key: key
    for key in (
        "standard",
        "handbook",
        "journal",
        "report",
        "dataset",
        "patent",
        "encyclopedia",
        "supplier",
        "web",
    )
}
"""A source of each type, named by its type."""


def _material(key, kind, family=None, solid=None):
    return {"id": key, "name": key.capitalize(), "kind": kind, "family": family, "solid": solid}


MATERIALS = {
    row["id"]: row
    for row in (
        _material("grog", "aggregate", solid="silica"),
        _material("sand", "aggregate", solid="silica"),
        _material("cement-a", "binder", "cement"),
        _material("cement-b", "binder", "cement"),
        _material("cement", "binder", "cement"),
        _material("fibre", "fibre"),
        _material("silica", "mineral"),
    )
}


def made_up_reference(*, cautions=(), phases=()):
    """Give reference tables that know the made-up materials, properties and sources."""
    return Reference(
        revision=1,
        database_id="made-up",
        materials=MATERIALS,
        properties=PROPERTIES,
        families={"cement": {"id": "cement", "name": "Cement"}},
        source_types=SOURCES,
        origins={},
        cautions=tuple(cautions),
        phases=tuple(phases),
    )


def survival_of(rows, reference, celsius, **asked):
    """Answer a survival question from made-up rows."""
    question = Question(asked.pop("material", "grog"), celsius + ZERO, **asked)
    by_material = {
        name: [row for row in rows if name in (row["material"], row["with"])]
        for name in reference.materials
    }
    return _answer(question, by_material, reference)
