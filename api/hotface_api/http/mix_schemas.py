"""Mixes and questions in request bodies: read strictly into the SI requests of ``mixes``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import marshmallow as ma
from marshmallow import fields, validate

from hotface_api.catalogue.survival import DEFAULT_MARGIN
from hotface_api.http.mix_fields import AmountField, Number, OwnProperties, TripleField, WaterField
from hotface_api.http.parameters import MAX_TEXT, Choice, Flag, Whole
from hotface_api.http.quantities import QuantityField
from hotface_api.mixes.request import (
    MAX_CONSTITUENTS,
    MAX_TEMPERATURES,
    STATE_KINDS,
    Constituent,
    EstimateRequest,
    Measured,
    Mix,
    State,
)
from hotface_api.store import vocabulary as words

__all__ = [
    "EstimateBody",
    "EstimateRequestSchema",
    "MixSchema",
    "QuestionSchema",
    "SurvivalsBody",
    "estimate_request",
]

MAX_BATCH: Final = 200
MAX_QUESTIONS: Final = 200
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


def _material(description: str, **kwargs: Any) -> fields.String:
    return fields.String(
        validate=validate.Length(1, MAX_TEXT), metadata={"description": description}, **kwargs
    )


class BucketSchema(ma.Schema):
    """One weighed bucket."""

    mass = QuantityField("mass", minimum=0.0, above=True, required=True)
    volume = QuantityField("volume", minimum=0.0, above=True, required=True)


class ConstituentSchema(ma.Schema):
    """One part of a mix."""

    material = _material("Material id.", required=True)
    amount = AmountField(
        required=True, metadata={"description": "Mass, volume or parts, by its unit."}
    )
    measured_as = Choice(
        ("loose", "absolute"),
        load_default="loose",
        metadata={"description": "What a volume is: the heap, or the grains alone."},
    )
    fill = Choice(words.FILLS, metadata={"description": "How the measure was filled."})
    properties = OwnProperties(
        load_default=dict, metadata={"description": "Own figures; they stand before held ones."}
    )
    grain_size = TripleField(
        "length", metadata={"description": "Size of the grains; fines count as paste."}
    )
    pore_size = TripleField("length", metadata={"description": "Size of the grains' pores."})
    crush_factor = Number(
        0, 1, metadata={"description": "Volume of the grains after mixing over before."}
    )

    bucket = fields.Nested(
        BucketSchema, metadata={"description": "One bucket of it, weighed: its loose density."}
    )
    kind = Choice(
        words.KINDS, metadata={"description": "Kind of a material of one's own that is not held."}
    )
    like = fields.String(
        validate=validate.Length(1, MAX_TEXT),
        metadata={"description": "Held material that fills what one's own leaves open."},
    )


class MixSchema(ma.Schema):
    """Constituents and water."""

    constituents = fields.List(
        fields.Nested(ConstituentSchema),
        required=True,
        validate=validate.Length(1, MAX_CONSTITUENTS),
    )
    water = WaterField(required=True, metadata={"description": "Mass, volume or ratio to binder."})
    parts_by = Choice(
        ("loose", "mass", "absolute"), metadata={"description": "What parts are counted by."}
    )


class StateSchema(ma.Schema):
    """The state asked about."""

    kind = Choice(STATE_KINDS, load_default="fired", metadata={"description": "State."})
    temperature = QuantityField(
        "temperature",
        temperature="point",
        metadata={"description": "Temperature of firing or drying."},
    )
    moisture = QuantityField("1", minimum=0.0, metadata={"description": "Water by mass of dry."})


class MeasuredDensitiesSchema(ma.Schema):
    """Measured densities by state."""

    fresh = QuantityField("density", minimum=0.0, above=True)
    demoulded = QuantityField("density", minimum=0.0, above=True)
    dried = QuantityField("density", minimum=0.0, above=True)
    fired = QuantityField("density", minimum=0.0, above=True)


class MeasuredSchema(ma.Schema):
    """What was measured on the piece; density and conductivity in the state asked about."""

    bulk_density = QuantityField("density", minimum=0.0, above=True)
    thermal_conductivity = QuantityField("thermal conductivity", minimum=0.0, above=True)
    thermal_conductivity_at = QuantityField(
        "temperature",
        temperature="point",
        metadata={"description": "Mean temperature of the measurement."},
    )
    densities = fields.Nested(
        MeasuredDensitiesSchema, metadata={"description": "Densities measured in other states."}
    )

    @ma.validates_schema
    def _check(self, data: dict[str, Any], **_kwargs: Any) -> None:
        names = ("thermal_conductivity", "thermal_conductivity_at")
        if sum(name in data for name in names) == 1:
            missing = next(name for name in names if name not in data)
            raise ma.ValidationError("a measured conductivity needs its temperature", missing)


class EstimateRequestSchema(ma.Schema):
    """One mix to estimate."""

    mix = fields.Nested(MixSchema, required=True)
    state = fields.Nested(StateSchema, metadata={"description": "Fired, if left out."})
    at = fields.List(
        QuantityField("temperature", temperature="point"),
        validate=validate.Length(1, MAX_TEMPERATURES),
        metadata={"description": "Temperatures to answer at; 20, 200, 400 ... Cel if left out."},
    )
    measured = fields.Nested(MeasuredSchema)
    coverage = Number(
        0.5, 0.99, load_default=0.9, metadata={"description": "Coverage of the intervals."}
    )
    seed = Whole(
        0, _LARGEST_SEED, in_body=True, load_default=1, metadata={"description": "Of the draws."}
    )


class EstimateBody(EstimateRequestSchema):
    """One request, or several under ``mixes``."""

    mix = fields.Nested(MixSchema)
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

    material = _material("Material id.", required=True)
    temperature = QuantityField("temperature", temperature="point", required=True)
    with_ = _material("Binder or partner it meets.", data_key="with", allow_none=True)
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


def _constituent(data: Mapping[str, Any]) -> Constituent:
    amount, kind = data["amount"]
    bucket = data.get("bucket")
    return Constituent(
        material=data["material"],
        amount=amount,
        amount_kind=kind,
        measured_as=data["measured_as"],
        fill=data.get("fill"),
        properties=data["properties"],
        pore_size=data.get("pore_size"),
        crush_factor=data.get("crush_factor"),
        grain_size=data.get("grain_size"),
        bucket=(bucket["mass"], bucket["volume"]) if bucket else None,
        kind=data.get("kind"),
        like=data.get("like"),
    )


def mix_of(data: Mapping[str, Any]) -> Mix:
    """Make the mix of a body that was read."""
    water, kind = data["water"]
    parts = tuple(_constituent(part) for part in data["constituents"])
    return Mix(parts, water, kind, data.get("parts_by"))


def estimate_request(data: Mapping[str, Any]) -> EstimateRequest:
    """Make the request of a body that was read."""
    return EstimateRequest(
        mix=mix_of(data["mix"]),
        state=State(**data.get("state", {})),
        at=tuple(data.get("at", ())),
        measured=Measured(**data.get("measured", {})),
        coverage=data["coverage"],
        seed=data["seed"],
    )
