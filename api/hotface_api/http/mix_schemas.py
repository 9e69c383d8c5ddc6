"""Estimates and questions in request bodies: read strictly into the SI requests of ``mixes``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import marshmallow as ma
from marshmallow import fields, validate

from hotface_api.catalogue.survival import DEFAULT_MARGIN
from hotface_api.http.mix_fields import ConductivityField, Number, RuleField, RuleOptions
from hotface_api.http.mix_parts import MixSchema, material_field, mix_of
from hotface_api.http.parameters import Choice, Flag, Whole
from hotface_api.http.quantities import QuantityField
from hotface_api.mixes.estimate import MAX_BATCH
from hotface_api.mixes.request import (
    MAX_RETURNED,
    MAX_TEMPERATURES,
    STATE_KINDS,
    EstimateRequest,
    Measured,
    Mould,
    State,
)
from hotface_api.store import vocabulary as words

__all__ = [
    "MAX_DRAWS",
    "EstimateBody",
    "EstimateRequestSchema",
    "MixSchema",
    "QuestionSchema",
    "StateSchema",
    "SurvivalsBody",
    "coverage_field",
    "estimate_request",
    "mix_of",
    "seed_field",
    "temperatures_field",
]

MAX_QUESTIONS: Final = 1000
MAX_DRAWS: Final = 20_000
"""Draws returned by one call at most: at fifty temperatures they fill some 30 megabytes."""
_SPARE: Final = Mould(1.0).spare
_LARGEST_SEED: Final = 2**53 - 1  # the largest whole number every JSON reader keeps exactly


class Deferred(fields.Nested):
    """An object of a batch, documented here and read later: its faults are its own result."""

    def _deserialize(
        self,
        value: Any,
        attr: str | None,  # noqa: ARG002 - the framework's signature
        data: Mapping[str, Any] | None,  # noqa: ARG002
        partial: Any = None,  # noqa: ARG002
        **kwargs: Any,  # noqa: ARG002
    ) -> Any:
        if not isinstance(value, dict):
            raise ma.ValidationError("must be an object")
        return value


class StateSchema(ma.Schema):
    """The state asked about."""

    kind = Choice(STATE_KINDS, load_default="fired", metadata={"description": "State."})
    temperature = QuantityField(
        "temperature",
        temperature="point",
        metadata={
            "description": "Temperature of firing or drying.",
            "example": {"value": 1000, "unit": "Cel"},
        },
    )
    moisture = QuantityField(
        "1",
        minimum=0.0,
        metadata={
            "description": "Water in the body by mass of dry, if it is known; air-dry bodies only.",
            "example": "3 %",
        },
    )


def _density(description: str, **kwargs: Any) -> QuantityField:
    about = {"description": description, "example": {"value": 1150, "unit": "kg/m3"}}
    return QuantityField("density", minimum=0.0, above=True, metadata=about, **kwargs)


class MeasuredDensitiesSchema(ma.Schema):
    """Measured densities by state."""

    fresh = _density("As mixed: a filled mould or bucket of known volume, weighed.")
    demoulded = _density("As it leaves the mould.")
    air_dry = _density("Dry to the touch, its pores still moist.", data_key="air-dry")
    dried = _density("Dried at 110 Cel.")
    fired = _density("After firing.")


class MeasuredSchema(ma.Schema):
    """What was measured on the piece; the estimate is narrowed to what agrees with it."""

    bulk_density = _density("In the state asked about.")
    thermal_conductivity = ConductivityField(
        metadata={
            "description": "In the state asked about, with its mean temperature.",
            "example": {
                "value": 0.32,
                "unit": "W/(m.K)",
                "temperature": {"value": 400, "unit": "Cel"},
            },
        }
    )
    thermal_conductivity_at = QuantityField(
        "temperature",
        temperature="point",
        metadata={
            "description": "Mean temperature of the measurement, where it does not stand with it.",
            "example": {"value": 400, "unit": "Cel"},
        },
    )
    densities = fields.Nested(
        MeasuredDensitiesSchema, metadata={"description": "Densities measured in other states."}
    )
    spread = Number(
        0,
        1,
        metadata={
            "description": "Relative standard uncertainty taken for each of these figures.",
            "default": Measured().spread,
            "example": 0.05,
        },
    )

    @ma.post_load
    def _told_once(self, data: dict[str, Any], **_kwargs: Any) -> dict[str, Any]:
        """Take the temperature from where it stands; SI names, states as they are called."""
        value, within = data.pop("thermal_conductivity", None) or (None, None)
        beside = data.pop("thermal_conductivity_at", None)
        place = "thermal_conductivity_at"
        if within is not None and beside is not None:
            raise ma.ValidationError("the temperature stands with the conductivity already", place)
        at = beside if within is None else within
        if value is None and at is not None:
            message = "a temperature needs its measured conductivity"
            raise ma.ValidationError(message, "thermal_conductivity")
        if value is not None and at is None:
            raise ma.ValidationError("a measured conductivity needs its temperature", place)
        if value is not None:
            data |= {"thermal_conductivity": value, place: at}
        if "air_dry" in data.get("densities", {}):
            data["densities"]["air-dry"] = data["densities"].pop("air_dry")
        return data


def temperatures_field() -> fields.List[float]:
    """Make the field of the temperatures to answer at."""
    return fields.List(
        QuantityField("temperature", temperature="point"),
        validate=validate.Length(1, MAX_TEMPERATURES),
        metadata={
            "description": "Temperatures to answer at, -23 to 1526 Cel; if left out 20, 200, 400"
            " ... up to that of the state, at most 1400 Cel.",
            "example": [{"value": 200, "unit": "Cel"}, {"value": 600, "unit": "Cel"}],
        },
    )


def coverage_field() -> Number:
    """Make the field of the coverage of the intervals."""
    about = {"description": "Coverage of the intervals.", "example": 0.9}
    return Number(0.5, 0.99, load_default=0.9, metadata=about)


def seed_field() -> Whole:
    """Make the field of the seed."""
    about = {"description": "Of the draws: the same request gives the same answer.", "example": 1}
    return Whole(0, _LARGEST_SEED, in_body=True, load_default=1, metadata=about)


class MouldSchema(ma.Schema):
    """A mould to fill."""

    volume = QuantityField(
        "volume",
        minimum=0.0,
        above=True,
        required=True,
        metadata={"description": "What it holds.", "example": {"value": 12, "unit": "L"}},
    )
    spare = Number(
        0,
        1,
        load_default=_SPARE,
        metadata={"description": "Share to mix beyond what it holds.", "example": _SPARE},
    )
    thickness = QuantityField(
        "length",
        minimum=0.0,
        above=True,
        metadata={
            "description": "Of the thickest wall of the piece: what is printed on drying by"
            " thickness comes with the answer.",
            "example": {"value": 60, "unit": "mm"},
        },
    )


class EstimateRequestSchema(ma.Schema):
    """One mix to estimate."""

    mix = fields.Nested(
        MixSchema, required=True, metadata={"description": "What goes into the bucket."}
    )
    state = fields.Nested(StateSchema, metadata={"description": "Fired, if left out."})
    at = temperatures_field()
    measured = fields.Nested(
        MeasuredSchema, metadata={"description": "What you measured; the intervals narrow to it."}
    )
    coverage = coverage_field()
    seed = seed_field()
    rule = RuleField()
    rule_options = RuleOptions()
    mould = fields.Nested(
        MouldSchema, metadata={"description": "Then the answer tells how much to mix for it."}
    )
    draws = Whole(
        0,
        MAX_RETURNED,
        in_body=True,
        load_default=0,
        metadata={
            "description": "How many of the draws behind the intervals to return, for a"
            f" calculation of one's own; those of one call add up to at most {MAX_DRAWS:,}.",
            "example": 500,
        },
    )

    @ma.validates_schema
    def _options_of_a_rule(self, data: dict[str, Any], **_kwargs: Any) -> None:
        if data.get("rule_options") and "rule" not in data:
            raise ma.ValidationError("options go with a rule; name it", "rule")


class EstimateBody(EstimateRequestSchema):
    """One request, or several under ``mixes``."""

    mix = fields.Nested(MixSchema, metadata={"description": "What goes into the bucket."})
    mixes = fields.List(
        Deferred(EstimateRequestSchema),
        validate=validate.Length(1, MAX_BATCH),
        metadata={"description": "Several requests, answered in order; then nothing else."},
    )

    @ma.pre_load
    def _one_or_many(self, data: Any, **_kwargs: Any) -> Any:
        if "mixes" in data and len(data) > 1:
            raise ma.ValidationError("mixes stands alone; put the rest into each request", "mixes")
        if "mixes" not in data and "mix" not in data:
            raise ma.ValidationError("give a mix, or several requests under mixes", "mix")
        return data


class QuestionSchema(ma.Schema):
    """Whether a material survives a temperature."""

    material = material_field("Material id.", required=True)
    temperature = QuantityField("temperature", temperature="point", required=True)
    with_ = material_field("Binder or partner it meets.", data_key="with", allow_none=True)
    place = Choice(words.PLACES, allow_none=True, metadata={"description": "Place in the wall."})
    load_ = Flag(
        data_key="load",
        in_body=True,
        load_default=False,
        metadata={"description": "Whether it carries load."},
    )
    cycling = Flag(
        in_body=True,
        load_default=True,
        metadata={"description": "Whether it heats and cools often."},
    )
    margin = QuantityField(
        "temperature",
        temperature="difference",
        minimum=0.0,
        load_default=DEFAULT_MARGIN,
        metadata={
            "description": "Kelvins to keep below the limit.",
            "default": f"{DEFAULT_MARGIN:g} K",
        },
    )


class SurvivalsBody(ma.Schema):
    """Several questions, or one mix whose every constituent is asked about."""

    questions = fields.List(Deferred(QuestionSchema), validate=validate.Length(1, MAX_QUESTIONS))
    mix = fields.Nested(MixSchema)
    temperature = QuantityField("temperature", temperature="point")
    place = Choice(words.PLACES, allow_none=True)
    load_ = Flag(data_key="load", in_body=True)
    cycling = Flag(in_body=True)
    margin = QuantityField("temperature", temperature="difference", minimum=0.0)

    @ma.pre_load
    def _one_or_other(self, data: Any, **_kwargs: Any) -> Any:
        if "questions" in data:
            if len(data) > 1:
                raise ma.ValidationError("questions stands alone", "questions")
        elif "mix" not in data:
            raise ma.ValidationError("give questions, or a mix and a temperature", "questions")
        elif "temperature" not in data:
            raise ma.ValidationError("a quantity is missing", "temperature")
        return data


def estimate_request(data: Mapping[str, Any]) -> EstimateRequest:
    """Make the request of a body that was read."""
    return EstimateRequest(
        mix=mix_of(data["mix"]),
        state=State(**data.get("state", {})),
        at=tuple(data.get("at", ())),
        measured=Measured(**data.get("measured", {})),
        coverage=data["coverage"],
        seed=data["seed"],
        rule=data.get("rule"),
        rule_options=data.get("rule_options", {}),
        returned_draws=data["draws"],
        mould=Mould(**data["mould"]) if "mould" in data else None,
    )
