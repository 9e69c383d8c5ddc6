"""Pages for people, served by the same application as ``/v1``.

Every page begins with one sentence, then the number with its interval, then the evidence. Pages
need no script, load nothing from elsewhere, and show the very objects ``/v1`` answers with.
"""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import Blueprint, Flask, Response

from hotface_api.http.conditional import JSON
from hotface_api.site import errors
from hotface_api.site.acting import BIG_FORM, serve_desk
from hotface_api.site.page import POLICY, Site
from hotface_api.site.serving import serve
from hotface_api.site.views import (
    compare,
    contributions,
    holdings,
    materials,
    mix,
    properties,
    records,
    review,
    search,
    signing,
    start,
    submit,
    survival,
    table,
)

__all__ = ["install"]


def _keep_policy(response: Response) -> Response:
    """Let every answer carry the pages' policy.

    A browser takes the fields of a 304 over into the page it holds: the policy of the data would
    take the style away from it.
    """
    if "Content-Security-Policy" not in response.headers:
        response.headers.add("Content-Security-Policy", POLICY)
    return response


def _desk(pages: Blueprint) -> None:
    """Serve what is for people with a session: contributing and reviewing."""
    both, one = "GET POST", "/contributions/<id>"
    desk = partial(serve_desk, pages)
    desk("/sign-in", signing.sign_in, methods=both, signed_in=False)
    desk("/sign-out", signing.sign_out, methods="POST", signed_in=False)
    desk("/contribute", submit.contribute, methods=both, weight="submit")
    desk("/contribute/table", table.contribute_table, methods=both, weight="bulk", limit=BIG_FORM)
    desk("/contributions", contributions.list_contributions)
    desk("/contributions.json", contributions.contributions_json, media=JSON)
    desk(one, contributions.show_contribution)
    desk(f"{one}.json", contributions.contribution_json, media=JSON)
    desk(f"{one}/reply", contributions.reply_to, methods="POST", weight="review")
    desk(f"{one}/withdrawal", contributions.withdraw_contribution, methods="POST", weight="review")
    desk(f"{one}/correction", contributions.correct_contribution, methods=both, weight="submit")
    desk(f"{one}/review", review.decide_on, methods="POST", weight="review")
    desk("/review", review.list_queue)
    desk("/review.json", review.queue_json, media=JSON)


def _blueprint() -> Blueprint:
    pages = Blueprint("site", __name__)
    pages.after_request(_keep_policy)
    serve(pages, "/", start.show_start)
    serve(pages, "/reading", start.show_reading, table=False)
    serve(pages, "/materials", materials.list_materials)
    serve(pages, "/materials/<id>", materials.show_material)
    serve(pages, "/materials/<id>/survival", survival.show_survival)
    serve(pages, "/materials/<id>/properties/<property>", properties.show_answer)
    serve(pages, "/survival", survival.ask_survival, table=False)
    serve(pages, "/compare", compare.ask_compare, table=False)
    serve(pages, "/compare/result", compare.show_compare)
    serve(pages, "/mix", mix.ask_mix, table=False)
    serve(pages, "/mix/result", mix.show_estimate)
    serve(pages, "/mix/card", mix.show_card)
    serve(pages, "/mix-search", search.ask_search, table=False)
    serve(pages, "/mix-search/result", search.show_search)
    serve(pages, "/properties", properties.list_properties)
    serve(pages, "/properties/<id>", properties.show_property)
    serve(pages, "/sources", records.list_sources)
    serve(pages, "/sources/<id>", records.show_source)
    serve(pages, "/values/<id>", records.show_value)
    serve(pages, "/specimens", records.list_specimens)
    serve(pages, "/specimens/<id>", records.show_specimen)
    serve(pages, "/holdings", holdings.show_holdings)
    _desk(pages)
    pages.add_url_rule("/assets/<name>", "asset", start.asset)
    _serve_json(pages, "/compare/result.json", compare.compare_json)
    _serve_json(pages, "/mix/estimate.json", mix.mix_json)
    _serve_json(pages, "/mix-search/result.json", search.search_json)
    return pages


def _serve_json(pages: Blueprint, rule: str, view: Any) -> None:
    """Serve what a page's form asks as ``/v1`` answers it: for the page's link to its data."""
    view.hotface_media = (JSON,)
    view.hotface_dated = True
    pages.add_url_rule(rule, view.__name__, view)


def install(app: Flask) -> None:
    """Put the pages onto an application that has the HTTP door already."""
    app.extensions["hotface-site"] = Site()
    app.register_blueprint(_blueprint())
    errors.install(app)
