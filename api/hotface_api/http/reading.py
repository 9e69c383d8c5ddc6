"""The base of our own fields: one method that reads a value, or says what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Generic, TypeVar

from marshmallow import fields

__all__ = ["Reading"]

T = TypeVar("T")


class Reading(fields.Field[T], Generic[T]):
    """A field of a query or a body; ``read`` raises ``ValidationError`` for what cannot be used."""

    def read(self, value: Any) -> T:  # noqa: ARG002 - each field's own
        """Turn what was sent into what is meant."""
        raise AssertionError

    def schema(self) -> dict[str, Any]:
        """Describe in JSON Schema what may be sent."""
        raise AssertionError

    def _deserialize(
        self,
        value: Any,
        attr: str | None,  # noqa: ARG002 - the framework's signature
        data: Mapping[str, Any] | None,  # noqa: ARG002
        **kwargs: Any,  # noqa: ARG002
    ) -> T:
        return self.read(value)
