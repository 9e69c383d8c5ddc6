"""How flask-smorest is made to tell our problems, our fields and our one kind of credentials."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from flask_smorest import Api  # type: ignore[import-untyped]
from marshmallow import fields

from hotface_api.http import problems
from hotface_api.http.problems import Code
from hotface_api.http.reading import Reading
from hotface_api.http.schemas import ProblemShape

__all__ = ["KEY", "Documented", "response_name"]

KEY: Final = "key"
"""The name of the only kind of credentials there is, in the document."""


def response_name(status: int) -> str:
    """Name the response of a status in the document."""
    return "NotModified" if status == 304 else f"Problem{status}"  # noqa: PLR2004


def _problem_response(status: int) -> dict[str, Any]:
    """Document what a status means here: every code that comes with it."""
    codes = [code for code in Code if code.status == status]
    told = "\n".join(f"- `{code.word}`: {code.meaning}" for code in codes)
    return {"description": told, "content": {problems.MEDIA_TYPE: {"schema": ProblemShape}}}


class Documented(Api):  # type: ignore[misc]
    """The OpenAPI document of an application, with our problems in place of the default errors."""

    DEFAULT_ERROR_RESPONSE_NAME: ClassVar[str | None] = None

    def _register_error_handlers(self) -> None:
        """Leave errors to ``problems``."""

    def _register_etag_headers(self) -> None:
        """Leave entity tags to ``conditional``."""

    def _register_pagination_header(self) -> None:
        """Leave pages to ``paging``."""

    def _register_responses(self) -> None:
        """Register one response a status, named alike on every Python version."""
        for status in sorted({code.status for code in Code}):
            self.spec.components.response(
                response_name(status), _problem_response(status), lazy=True
            )
        fresh = {"description": "The caller holds the answer already."}
        self.spec.components.response(response_name(304), fresh, lazy=True)
        scheme = {
            "type": "http",
            "scheme": "bearer",
            "description": "A contributor's or curator's key. Reads need none; with one they count"
            " towards its own rate limit.",
        }
        self.spec.components.security_scheme(KEY, scheme)
        self.ma_plugin.converter.add_attribute_function(_describe_field)


def _describe_field(_converter: Any, field: fields.Field[Any], **_: Any) -> dict[str, Any]:
    """Let our own fields describe themselves."""
    return field.schema() if isinstance(field, Reading) else {}
