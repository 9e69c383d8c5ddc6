"""What a mix is made of, in request bodies: read strictly into the constituents of ``mixes``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import marshmallow as ma
from marshmallow import fields, validate

from hotface_api.http.mix_fields import (
    AmountField,
    Number,
    OwnProperties,
    TripleField,
    WaterField,
    percentage,
)
from hotface_api.http.parameters import MAX_TEXT, Choice
from hotface_api.http.quantities import QuantityField
from hotface_api.mixes.request import MAX_CONSTITUENTS, Constituent, Mix
from hotface_api.store import vocabulary as words

__all__ = [
    "PARTS_BY",
    "ConstituentFields",
    "ConstituentSchema",
    "MixSchema",
    "constituent_of",
    "material_field",
    "mix_of",
]

PARTS_BY: Final = ("loose", "mass", "absolute")
_MOST_CRUSHED: Final = 0.01
"""Nothing leaves a smaller share of its volume: the lightest grains are a hundredth solid."""
_ROUNDED_OFF: Final = 1.0
"""How far from a hundred rounded percentages may add up to, in percent."""


def material_field(description: str, **kwargs: Any) -> fields.String:
    """Make the field of a material id."""
    about = {"description": description, "example": "expanded-clay"}
    return fields.String(validate=validate.Length(1, MAX_TEXT), metadata=about, **kwargs)


class BucketSchema(ma.Schema):
    """One weighed bucket."""

    mass = QuantityField(
        "mass",
        minimum=0.0,
        above=True,
        required=True,
        metadata={"description": "What it holds, less the bucket.", "example": "6.4 kg"},
    )
    volume = QuantityField(
        "volume",
        minimum=0.0,
        above=True,
        required=True,
        metadata={"description": "How much the bucket holds, level.", "example": "20 L"},
    )


class ConstituentFields(ma.Schema):
    """What may be told of a material in a mix, beside how much there is of it."""

    material = material_field("Material id, or any name for one of your own.", required=True)
    fill = Choice(words.FILLS, metadata={"description": "How the measure was filled."})
    properties = OwnProperties(
        load_default=dict,
        metadata={
            "description": "Own figures of it, each a quantity or low, typical and high; they"
            " stand before held ones.",
            "example": {"loose_bulk_density": "340 kg/m3"},
        },
    )
    grain_size = TripleField(
        "length",
        metadata={
            "description": "Size of the grains; below 0.1 mm they count as part of the paste.",
            "example": {"low": 4, "high": 8, "unit": "mm"},
        },
    )
    pore_size = TripleField(
        "length",
        metadata={
            "description": "Size of the pores in the grains, seen on a broken one: large pores pass"
            " heat by radiation when hot.",
            "example": {"low": 0.1, "high": 1, "unit": "mm"},
        },
    )
    crush_factor = Number(
        _MOST_CRUSHED,
        1,
        metadata={
            "description": "Volume of the grains after mixing over before: 1 where none breaks.",
            "example": 0.9,
        },
    )
    moisture = QuantityField(
        "1",
        minimum=0.0,
        load_default=0.0,
        metadata={
            "description": "Water it holds already by mass of dry material: in what was weighed,"
            " and on top of the water of the mix. Dry, if left out.",
            "default": "0 %",
            "example": "4 %",
        },
    )
    bucket = fields.Nested(
        BucketSchema,
        metadata={
            "description": "One bucket of it, weighed, filled as you fill it: its loose density."
        },
    )
    kind = Choice(
        words.KINDS, metadata={"description": "Kind of a material of one's own that is not held."}
    )
    like = fields.String(
        validate=validate.Length(1, MAX_TEXT),
        metadata={
            "description": "Held material that fills what one's own leaves open.",
            "example": "expanded-clay",
        },
    )


class ConstituentSchema(ConstituentFields):
    """One part of a mix."""

    amount = AmountField(
        required=True,
        metadata={
            "description": "Mass, volume or parts, by its unit; percentages add up to 100.",
            "example": {"value": 60, "unit": "L"},
        },
    )
    measured_as = Choice(
        ("loose", "absolute"),
        load_default="loose",
        metadata={"description": "What a volume is: the heap, or the grains alone."},
    )


class MixSchema(ma.Schema):
    """Constituents and water."""

    constituents = fields.List(
        fields.Nested(ConstituentSchema),
        required=True,
        validate=validate.Length(1, MAX_CONSTITUENTS),
        metadata={"description": "All that goes in but the water, each material once."},
    )
    water = WaterField(
        required=True,
        metadata={
            "description": "Mass, volume or ratio to binder by mass.",
            "example": {"ratio_to_binder": 0.45},
        },
    )
    parts_by = Choice(PARTS_BY, metadata={"description": "What parts are counted by."})

    @ma.validates_schema(pass_original=True, skip_on_field_errors=True)
    def _add_up(self, _data: Any, original: Mapping[str, Any], **_kwargs: Any) -> None:
        """Hold percentages to a hundred: one that is left out would change every other share."""
        shares = [percentage(part["amount"]) for part in original["constituents"]]
        given = [share for share in shares if share is not None]
        if not given:
            return
        if len(given) < len(shares):
            message = "give all amounts in percent, or all as parts (unit 1)"
            place = {"constituents": {shares.index(None): {"amount": [message]}}}
            raise ma.ValidationError(place)
        if abs(sum(given) - 100.0) > _ROUNDED_OFF:
            raise ma.ValidationError(
                f"the percentages add up to {sum(given):.6g}, not to 100; give every constituent,"
                " or their parts (unit 1)",
                "constituents",
            )


def constituent_of(data: Mapping[str, Any], **amount: Any) -> Constituent:
    """Make the constituent of what was read; its amount is given apart."""
    bucket = data.get("bucket")
    return Constituent(
        material=data["material"],
        fill=data.get("fill"),
        properties=data["properties"],
        pore_size=data.get("pore_size"),
        crush_factor=data.get("crush_factor"),
        grain_size=data.get("grain_size"),
        bucket=(bucket["mass"], bucket["volume"]) if bucket else None,
        kind=data.get("kind"),
        like=data.get("like"),
        moisture=data["moisture"],
        **amount,
    )


def _constituent(data: Mapping[str, Any]) -> Constituent:
    amount, kind = data["amount"]
    return constituent_of(data, amount=amount, amount_kind=kind, measured_as=data["measured_as"])


def mix_of(data: Mapping[str, Any]) -> Mix:
    """Make the mix of a body that was read."""
    water, kind = data["water"]
    parts = tuple(_constituent(part) for part in data["constituents"])
    return Mix(parts, water, kind, data.get("parts_by"))
