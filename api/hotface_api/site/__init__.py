"""Pages for people, served by the same application as ``/v1``.

Every page begins with one sentence, then the number with its interval, then the evidence. Pages
need no script, load nothing from elsewhere, and show the very objects ``/v1`` answers with.
"""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Flask, Response

from hotface_api.http.conditional import JSON
from hotface_api.site import errors
from hotface_api.site.page import POLICY, Site
from hotface_api.site.serving import serve
from hotface_api.site.views import holdings, materials, mix, properties, records, start, survival

__all__ = ["install"]


def _keep_policy(response: Response) -> Response:
    """Let every answer carry the pages' policy.

    A browser takes the fields of a 304 over into the page it holds: the policy of the data would
    take the style away from it.
    """
    if "Content-Security-Policy" not in response.headers:
        response.headers.add("Content-Security-Policy", POLICY)
    return response


def _blueprint() -> Blueprint:
    pages = Blueprint("site", __name__)
    pages.after_request(_keep_policy)
    serve(pages, "/", start.show_start, table=False)
    serve(pages, "/reading", start.show_reading, table=False)
    serve(pages, "/materials", materials.list_materials)
    serve(pages, "/materials/<id>", materials.show_material)
    serve(pages, "/materials/<id>/survival", survival.show_survival)
    serve(pages, "/materials/<id>/properties/<property>", properties.show_answer)
    serve(pages, "/survival", survival.ask_survival, table=False)
    serve(pages, "/mix", mix.ask_mix, table=False)
    serve(pages, "/mix/result", mix.show_estimate)
    serve(pages, "/mix/card", mix.show_card, table=False)
    serve(pages, "/properties", properties.list_properties)
    serve(pages, "/properties/<id>", properties.show_property)
    serve(pages, "/sources", records.list_sources)
    serve(pages, "/sources/<id>", records.show_source)
    serve(pages, "/values/<id>", records.show_value)
    serve(pages, "/specimens", records.list_specimens)
    serve(pages, "/specimens/<id>", records.show_specimen)
    serve(pages, "/holdings", holdings.show_holdings)
    # Submission form and review queue come here, once the ledger takes them.
    pages.add_url_rule("/assets/<name>", "asset", start.asset)
    as_json: Any = mix.mix_json
    as_json.hotface_media = (JSON,)
    as_json.hotface_dated = True
    pages.add_url_rule("/mix/estimate.json", "mix_json", as_json)
    return pages


def install(app: Flask) -> None:
    """Put the pages onto an application that has the HTTP door already."""
    app.extensions["hotface-site"] = Site()
    app.register_blueprint(_blueprint())
    errors.install(app)
