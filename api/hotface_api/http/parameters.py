"""The fields of queries and bodies that are ours, and what is said where one does not fit."""

from __future__ import annotations

from typing import Any, ClassVar, Final

import marshmallow as ma
from marshmallow import fields, validate

from hotface_api.http.body import pointer
from hotface_api.http.problems import Code, Problem
from hotface_api.http.reading import Reading

__all__ = [
    "Choice",
    "DatedQuery",
    "Flag",
    "PageQuery",
    "UnitsQuery",
    "Whole",
    "Words",
    "body_faults",
    "body_problem",
    "parameter_problem",
    "query_problem",
    "search_field",
    "word_field",
]

MAX_TEXT: Final = 200
_MAX_WORDS: Final = 50
_MAX_DIGITS: Final = 18


class Words(Reading[tuple[str, ...]]):
    """A repeatable parameter; ``a=x&a=y`` and ``a=x,y`` mean either.

    Parameters
    ----------
    choices : tuple of str, optional
        The closed list of words, if there is one.
    """

    is_multiple: ClassVar[bool] = True

    def __init__(self, choices: tuple[str, ...] = (), **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.choices = choices

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        item: dict[str, Any] = {"type": "string", "minLength": 1}
        if self.choices:
            item = {"type": "string", "enum": list(self.choices)}
        return {"type": "array", "items": item, "minItems": 1, "maxItems": _MAX_WORDS}

    def read(self, value: Any) -> tuple[str, ...]:
        """Read words, each once, in the order given."""
        words = tuple(word.strip() for given in value for word in given.split(","))
        if len(words) > _MAX_WORDS:
            raise ma.ValidationError(f"at most {_MAX_WORDS} words at once")
        for word in words:
            if not word:
                raise ma.ValidationError("an empty word matches nothing; leave the parameter out")
            if self.choices and word not in self.choices:
                raise ma.ValidationError(_not_a_choice(word, self.choices))
        return tuple(dict.fromkeys(words))


def _not_a_choice(word: str, choices: tuple[str, ...]) -> str:
    return f"{word[:40]!r} is not one of {', '.join(choices)}"


class Choice(Reading[str]):
    """One word of a closed list."""

    def __init__(self, choices: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.choices = choices

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        return {"type": "string", "enum": list(self.choices)}

    def read(self, value: Any) -> str:
        """Read a word of the list."""
        if not isinstance(value, str) or value not in self.choices:
            raise ma.ValidationError(_not_a_choice(str(value), self.choices))
        return value


class Flag(Reading[bool]):
    """``true`` or ``false``, spelt so."""

    def __init__(self, *, in_body: bool = False, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.in_body = in_body

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        return {"type": "boolean"}

    def read(self, value: Any) -> bool:
        """Read a truth value; a text in a body is none."""
        if self.in_body and isinstance(value, bool):
            return value
        if not self.in_body and value in ("true", "false"):
            return bool(value == "true")
        raise ma.ValidationError("must be true or false")


class Whole(Reading[int]):
    """A whole number in plain digits, at least ``minimum``."""

    def __init__(
        self, minimum: int, maximum: int | None = None, *, in_body: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(**kwargs)
        self.in_body = in_body
        self.minimum = minimum
        self.maximum = maximum

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        bounds = {"minimum": self.minimum, "maximum": self.maximum}
        return {"type": "integer", **{k: v for k, v in bounds.items() if v is not None}}

    def read(self, value: Any) -> int:
        """Read a whole number; in a body it must be one already."""
        text = str(value)
        fits = type(value) is (int if self.in_body else str)
        if not fits or not (text.isascii() and text.isdigit()) or len(text) > _MAX_DIGITS:
            raise ma.ValidationError("must be a whole number in plain digits")
        number = int(text)
        if number < self.minimum:
            raise ma.ValidationError(f"must be at least {self.minimum}")
        if self.maximum is not None and number > self.maximum:
            raise ma.ValidationError(f"must be at most {self.maximum}")
        return number


def word_field(description: str, example: str, **kwargs: Any) -> fields.String:
    """Make the field of a parameter that takes one id."""
    return fields.String(
        **kwargs,
        validate=validate.Length(1, MAX_TEXT),
        metadata={"description": description, "example": example},
    )


def search_field(what: str, example: str) -> fields.String:
    """Make the field of a text search."""
    return fields.String(
        validate=[validate.Length(1, MAX_TEXT), validate.Regexp(r".*\S", error="must hold a word")],
        metadata={
            "description": f"Words that must all occur in {what}; capitals do not matter.",
            "example": example,
        },
    )


class UnitsQuery(ma.Schema):
    """What every answer with numbers accepts."""

    units = Choice(
        ("si", "us"),
        load_default="si",
        metadata={
            "description": "Units of the answer: SI, or US customary by the published table.",
            "example": "us",
        },
    )


class DatedQuery(UnitsQuery):
    """What every read of dated data accepts."""

    revision = Whole(
        1,
        metadata={
            "description": "Answer as at this revision of the data; the latest by default.",
            "example": 1,
        },
    )


class PageQuery(DatedQuery):
    """What every list accepts."""

    limit = Whole(
        1,
        load_default=50,
        metadata={
            "description": "How many items a page holds; more than 200 counts as 200.",
            "example": 20,
        },
    )
    cursor = fields.String(
        validate=validate.Length(1, 1000),
        metadata={"description": "Where to go on, from `next` of the page before; opaque."},
    )


def _flat(messages: Any, *steps: str | int) -> list[tuple[tuple[str | int, ...], str]]:
    """Flatten nested messages of a schema into places and texts."""
    if isinstance(messages, dict):
        found: list[tuple[tuple[str | int, ...], str]] = []
        for key, inner in messages.items():
            found += _flat(inner, *steps) if key == "_schema" else _flat(inner, *steps, key)
        return found
    listed = messages if isinstance(messages, list) else [messages]
    return [(steps, str(text)) for text in listed]


def _sentence(text: str) -> str:
    """Write a message as a fragment, the way our own are."""
    text = text.rstrip(".")
    return text[:1].lower() + text[1:]


def body_faults(messages: Any, *start: str | int) -> list[tuple[str, str]]:
    """Give pointer and text of everything a schema says is wrong with a body."""
    return [(pointer(*steps), _sentence(text)) for steps, text in _flat(messages, *start)]


def body_problem(messages: Any, *start: str | int) -> Problem:
    """Make the problem for a body, or a part of one, whose values do not fit its schema."""
    errors = [{"detail": text, "pointer": place} for place, text in body_faults(messages, *start)]
    return Problem(
        Code.INVALID_BODY, f"{errors[0]['pointer']}: {errors[0]['detail']}", errors=errors
    )


def parameter_problem(name: str, detail: str) -> Problem:
    """Make the problem for a parameter that cannot be used here."""
    return query_problem({name: [detail]})


def query_problem(messages: Any) -> Problem:
    """Make the problem for a query whose values do not fit its schema."""
    errors = [
        {"detail": _sentence(text), "parameter": str(steps[0])} for steps, text in _flat(messages)
    ]
    detail = f"{errors[0]['parameter']}: {errors[0]['detail']}"
    return Problem(Code.INVALID_PARAMETER, detail, errors=errors)
