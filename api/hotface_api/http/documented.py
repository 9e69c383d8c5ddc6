"""Small makers of documented fields, so that a shape reads as a list of its members."""

from __future__ import annotations

from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

__all__ = [
    "flag",
    "integer",
    "listed",
    "nested",
    "number",
    "page_of_items",
    "strings",
    "text",
    "word",
]


def text(description: str = "", *, null: bool = False) -> fields.String:
    """Document a text."""
    return fields.String(required=True, allow_none=null, metadata=_told(description))


def number(description: str = "", *, null: bool = True) -> fields.Float:
    """Document a number; most are null when not given."""
    return fields.Float(required=True, allow_none=null, metadata=_told(description))


def integer(description: str = "", *, null: bool = False) -> fields.Integer:
    """Document a whole number."""
    return fields.Integer(required=True, allow_none=null, metadata=_told(description))


def flag(description: str = "") -> fields.Boolean:
    """Document a boolean."""
    return fields.Boolean(required=True, metadata=_told(description))


def word(choices: tuple[str, ...], description: str = "", *, null: bool = False) -> fields.String:
    """Document one word of a closed list."""
    return fields.String(
        required=True,
        allow_none=null,
        validate=validate.OneOf(choices),
        metadata=_told(description),
    )


def strings(description: str = "") -> fields.List[Any]:
    """Document a list of texts."""
    return fields.List(fields.String(), required=True, metadata=_told(description))


def nested(schema: type[ma.Schema], description: str = "", *, null: bool = False) -> fields.Nested:
    """Document an object."""
    return fields.Nested(schema, required=True, allow_none=null, metadata=_told(description))


def listed(
    schema: type[ma.Schema], description: str = "", *, null: bool = False
) -> fields.List[Any]:
    """Document a list of objects."""
    return fields.List(
        fields.Nested(schema), required=True, allow_none=null, metadata=_told(description)
    )


def _told(description: str) -> dict[str, str]:
    return {"description": description} if description else {}


def page_of_items(name: str, item: type[ma.Schema]) -> type[ma.Schema]:
    """Make the schema of a page of items."""
    made = ma.Schema.from_dict(
        {
            "items": listed(item),
            "next": text("Address of the next page; null on the last.", null=True),
            "revision": integer("Revision of the data the list is of."),
        },
        name=name,
    )
    made.__doc__ = f"A page of {name.removesuffix('Page').lower()} items."
    return made
