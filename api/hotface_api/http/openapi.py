"""The OpenAPI document, written from what the operations declare.

``python -m hotface_api.http.openapi docs/openapi.json`` writes the stored copy anew; a test holds
it against the code, so that no change of the interface goes unseen.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path
from typing import Any, Final

import orjson
from apispec.ext.marshmallow import MarshmallowPlugin
from apispec.ext.marshmallow.common import resolve_schema_cls
from flask import Flask

from hotface_api.http.describing import Documented
from hotface_api.http.routes import (
    carry,
    contributions,
    estimates,
    holdings,
    lookups,
    materials,
    mix_searches,
    properties,
    reviews,
    root,
    sources,
    specimens,
    survival,
    tables,
    values,
)

__all__ = ["document", "install", "main", "written"]

_TOPICS: Final = (
    root,
    materials,
    properties,
    survival,
    estimates,
    mix_searches,
    values,
    sources,
    specimens,
    contributions,
    reviews,
    holdings,
    tables,
    lookups,
    carry,
)
_ABOUT: Final = """Refractory material properties, each with its source, and what follows from them:
ranges, curves over temperature, survival at a temperature, and estimates of mixes.

Numbers come as `{"value", "unit"}` or ranges with UCUM units, SI unless `?units=us` is asked for;
what is absent is `null`, never 0. Every read takes `?revision=` and then answers as the data stood.
Unknown parameters are refused. Errors are problem documents (RFC 9457) with a stable `code`.
"""


def _schema_name(schema: Any) -> str:
    """Name a schema in the document: its class, less what only tells that it is one."""
    found = resolve_schema_cls(schema)
    kind = found[0] if isinstance(found, list) else found
    return kind.__name__.removesuffix("Schema").removesuffix("Shape")


def install(app: Flask) -> None:
    """Register every operation on an application; the document is written once asked for."""
    for module in _TOPICS:
        app.register_blueprint(module.topic)
    app.extensions["hotface-openapi"] = _described


@cache
def _described() -> bytes:
    """Write the document, once a process: it costs more than everything else at the start."""
    app = Flask(__name__, static_folder=None)
    app.config["API_TITLE"] = "hotface"
    app.config["API_VERSION"] = "1"
    app.config["OPENAPI_VERSION"] = "3.1.0"
    api = Documented(
        app,
        spec_kwargs={
            "marshmallow_plugin": MarshmallowPlugin(schema_name_resolver=_schema_name),
            "info": {
                "description": _ABOUT,
                "license": {"name": "Apache License 2.0", "identifier": "Apache-2.0"},
            },
        },
    )
    for module in _TOPICS:
        api.register_blueprint(module.topic)
    made = api.spec.to_dict()
    _tell_examples(made)
    return orjson.dumps(made)


def _tell_examples(made: dict[str, Any]) -> None:
    """Move the examples of optional parameters into their descriptions.

    The page fills every example into its form, and all filters at once match nothing.
    """
    operations = (operation for item in made["paths"].values() for operation in item.values())
    for operation in operations:
        parameters = operation.get("parameters", ()) if isinstance(operation, dict) else ()
        for parameter in parameters:
            shown = parameter.get("schema", {}).pop("example", None)
            if parameter["required"]:
                parameter["example"] = shown
            elif shown is not None:
                listed = shown if isinstance(shown, list) else [shown]
                texts = [e if isinstance(e, str) else orjson.dumps(e).decode() for e in listed]
                parameter["description"] += f" Example: `{', '.join(texts)}`."


def document() -> dict[str, Any]:
    """Give the document, without a database."""
    made: dict[str, Any] = orjson.loads(_described())
    return made


def written() -> bytes:
    """Give the document as the stored copy holds it."""
    options = orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE | orjson.OPT_SORT_KEYS
    return orjson.dumps(document(), option=options)


def main(arguments: list[str]) -> int:
    """Write the stored copy to the path given."""
    if len(arguments) != 1:
        sys.stderr.write("usage: python -m hotface_api.http.openapi docs/openapi.json\n")
        return 2
    Path(arguments[0]).write_bytes(written())
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
