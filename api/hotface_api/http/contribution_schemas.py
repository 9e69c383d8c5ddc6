"""Bodies of contributions: what may stand in them, and what they become for the ledger."""

from __future__ import annotations

from typing import Any, Final

import marshmallow as ma
from marshmallow import fields, validate

from hotface_api.http.contribution_fields import (
    Figure,
    Listed,
    Optional,
    Said,
    SourceField,
    SpanField,
    Strict,
)
from hotface_api.http.mix_fields import Number
from hotface_api.http.mix_schemas import Deferred
from hotface_api.http.parameters import Choice, Whole
from hotface_api.ledger.bodies import PARTS
from hotface_api.ledger.drafts import (
    ConstituentDraft,
    MaterialDraft,
    Measured,
    SpecimenDraft,
    UncertaintyDraft,
    ValueDraft,
)
from hotface_api.ledger.prepare import LICENCES, MAX_BATCH
from hotface_api.ledger.review import DECISIONS
from hotface_api.ledger.texts import LONG
from hotface_api.store import vocabulary as words

__all__ = [
    "CorrectionBody",
    "ReplyBody",
    "ReviewBody",
    "ReviewsBody",
    "SpecimenSubmissionBody",
    "SubmissionBody",
    "ValueBody",
    "WithdrawalBody",
]

Loaded = dict[str, Any]
MAX_REVIEWED: Final = 500
_MOST_PARTS: Final = 40


def _about(description: str) -> dict[str, str]:
    return {"description": description}


class PrintedBody(Strict):
    """The figures as the source prints them, as text."""

    low = Figure(metadata=_about("Low end."))
    typical = Figure(metadata=_about("The figure itself, or the middle of a range."))
    high = Figure(metadata=_about("High end."))
    unit = Said(metadata=_about("Unit as printed."))
    code = Said(metadata=_about("UCUM code it is to be read as; from `unit` when left out."))


class ConditionBody(Strict):
    """What a value holds for; leave out what the source does not state."""

    form = Said(words.FORMS)
    state = Said(words.STATES)
    fill = Said(words.FILLS)
    event_kind = Said(words.EVENT_KINDS)
    grain_size = SpanField("length")
    treatment_temperature = Optional("temperature", temperature="point")
    reference_temperature = Optional("temperature", temperature="point")
    duration = Optional("time")
    age = Optional("time")
    moisture = Optional("1", metadata=_about("Water by mass of dry."))
    specimen_density = SpanField("density")
    with_ = Said(data_key="with", metadata=_about("Partner material."))
    place = Said(words.PLACES)
    load_ = Optional("pressure", data_key="load")
    atmosphere = Said()
    direction = Said()
    text = Said(longest=LONG, metadata=_about("The condition in words."))


class UncertaintyBody(Strict):
    """An uncertainty (GUM) in the printed unit: one of `standard`, `expanded`, `half_width`."""

    standard = Figure(metadata=_about("Standard uncertainty."))
    expanded = Figure(metadata=_about("Expanded uncertainty; with `coverage_factor`."))
    coverage_factor = Number(0.1, 10, allow_none=True)
    half_width = Figure(metadata=_about("Limits ±a; with `distribution`."))
    distribution = Said(words.DISTRIBUTIONS)
    kind = Said(words.UNCERTAINTY_KINDS, metadata=_about("A from readings, B otherwise."))
    degrees_of_freedom = Number(0.5, 1e9, allow_none=True)
    n = Whole(1, 10**9, in_body=True, allow_none=True, metadata=_about("Number of readings."))

    @ma.post_load
    def _draft(self, data: Loaded, **_: Any) -> UncertaintyDraft:
        return UncertaintyDraft(**{**data, "kind": data.get("kind") or "B"})


class ValueBody(Strict):
    """One figure as reported, in the members a served value has."""

    material = Said(needed=True, metadata=_about("Material id, held or proposed with this."))
    property = Said(needed=True, metadata=_about("Property id."))
    bound = Said(words.BOUNDS, metadata=_about("`is` unless said."))
    role = Said(words.ROLES, metadata=_about("What kind of limit it is."))
    printed = fields.Nested(
        PrintedBody, required=True, error_messages={"required": "the figures are needed"}
    )
    temperature = SpanField("temperature", point=True, metadata=_about("What it holds at."))
    condition = fields.Nested(ConditionBody, allow_none=True)
    method = Said(longest=LONG)
    source = SourceField(metadata=_about("Where it stands; the submission's when left out."))
    locator = Said(longest=LONG, metadata=_about("Where in the source: page, table, figure."))
    quoted_in = SourceField(metadata=_about("The text it was seen in, if that is another."))
    specimen = Said(metadata=_about("Held specimen it was measured on."))
    uncertainty = fields.Nested(UncertaintyBody, allow_none=True)
    note = Said(longest=LONG)

    @ma.post_load
    def _draft(self, data: Loaded, **_: Any) -> ValueDraft:
        printed, condition = data.pop("printed"), data.pop("condition", None) or {}
        temperature = data.pop("temperature", None) or (None, None)
        data["bound"] = data.get("bound") or "is"
        for name in ("grain_size", "specimen_density"):
            pair = condition.pop(name, None) or (None, None)
            condition[f"{name}_low"], condition[f"{name}_high"] = pair
        condition["condition_text"] = condition.pop("text", None)
        condition["load"] = condition.pop("load_", None)
        return ValueDraft(
            **data,
            **condition,
            low=printed.get("low"),
            typical=printed.get("typical"),
            high=printed.get("high"),
            unit=_first(printed.get("code"), printed.get("unit")),
            printed_unit=printed.get("unit"),
            temperature_low=temperature[0],
            temperature_high=temperature[1],
        )


def _first(code: str | None, unit: str | None) -> Any:
    """Give what the unit is read from; None is told by the ledger like every missing unit."""
    return unit if code is None else code


class MaterialBody(Strict):
    """A material that is not held yet: a generic class, no brand."""

    id = Said(needed=True, metadata=_about("Lower-case words joined by hyphens."))
    name = Said(needed=True)
    kind = Said(words.KINDS, needed=True)
    description = Said(longest=LONG, needed=True)
    family = Said()
    also_known_as = Listed()
    solid = Said(metadata=_about("Held mineral or glass its pore-free substance mostly is."))

    @ma.post_load
    def _draft(self, data: Loaded, **_: Any) -> MaterialDraft:
        names = data.pop("also_known_as", None)
        return MaterialDraft(**data, also_known_as="; ".join(names) if names else None)


class RecipeLineBody(Strict):
    """One line of a recipe."""

    material = Said(needed=True)
    part = Said(PARTS, needed=True)
    mass_percent = Number(0, 100, allow_none=True, metadata=_about("Share of the dry mass."))
    volume_percent = Number(0, 100, allow_none=True, metadata=_about("Share of volume."))

    @ma.post_load
    def _draft(self, data: Loaded, **_: Any) -> ConstituentDraft:
        return ConstituentDraft(**data)


class SpecimenBody(Strict):
    """A measured body with its recipe; the values submitted belong to it."""

    material = Said(needed=True, metadata=_about("The body it is of, held or proposed."))
    name = Said(needed=True)
    kind = Said(words.SPECIMEN_KINDS, metadata=_about("`specimen` unless said."))
    constituents = fields.List(
        fields.Nested(RecipeLineBody), validate=validate.Length(max=_MOST_PARTS)
    )
    proportions = Said(longest=LONG, metadata=_about("Recipe in words."))
    water_binder_ratio = Number(0, 100, allow_none=True)
    state = Said(words.STATES)
    treatment_temperature = Optional("temperature", temperature="point")
    age = Optional("time")
    moisture = Optional("1", metadata=_about("Water by mass of dry."))
    method = Said()
    locator = Said(longest=LONG)
    note = Said(longest=LONG)

    @ma.post_load
    def _draft(self, data: Loaded, **_: Any) -> SpecimenDraft:
        recipe = tuple(data.pop("constituents", ()))
        kind = data.pop("kind", None) or "specimen"
        return SpecimenDraft(**data, kind=kind, constituents=recipe)


class MeasuredByBody(Strict):
    """Who measured, where it is not the holder of the key."""

    name = Said(needed=True)
    orcid = Said(metadata=_about("ORCID; its check digit is verified."))

    @ma.post_load
    def _draft(self, data: Loaded, **_: Any) -> Measured:
        return Measured(**data)


class SubmissionBody(Strict):
    """Values under one licence, with what they need besides."""

    licence = Said(LICENCES, needed=True, metadata=_about("What the contribution is given under."))
    source = SourceField(metadata=_about("Source of every value that names none itself."))
    material = fields.Nested(
        MaterialBody, allow_none=True, metadata=_about("A material proposed with the values.")
    )
    measured_by = fields.Nested(MeasuredByBody, allow_none=True)
    values = fields.List(
        Deferred(ValueBody),
        required=True,
        validate=validate.Length(1, MAX_BATCH),
        error_messages={"required": "at least one value is wanted"},
    )


class SpecimenSubmissionBody(SubmissionBody):
    """A measured body, and what was measured on it."""

    specimen = fields.Nested(
        SpecimenBody, required=True, error_messages={"required": "describe the measured body"}
    )


class CorrectionBody(Strict):
    """A value that takes the place of an older one, and why."""

    value = Deferred(
        ValueBody,
        required=True,
        metadata=_about("The whole new value; source and specimen are kept if left out."),
    )
    reason = Said(longest=LONG, needed=True)


class ReviewBody(Strict):
    """A decision on one value; `decline` and `ask` need a note."""

    decision = Choice(DECISIONS, required=True, metadata=_about("What is decided."))
    note = Said(longest=LONG, metadata=_about("Why, or what is asked."))


class ReviewedBody(Strict):
    """A value decided on, and the version that was looked at."""

    value = Said(needed=True)
    version = Whole(1, 10**9, in_body=True, required=True)


class ReviewsBody(ReviewBody):
    """One decision on several values, all or nothing."""

    values = fields.List(
        fields.Nested(ReviewedBody), required=True, validate=validate.Length(1, MAX_REVIEWED)
    )


class ReplyBody(Strict):
    """The answer to a curator's question."""

    text = Said(longest=LONG, needed=True)


class WithdrawalBody(Strict):
    """Why a value is withdrawn."""

    reason = Said(longest=LONG, needed=True)
