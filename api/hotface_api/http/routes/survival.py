"""Survival: one question in a query, many in a body, or every part of a mix."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from flask import Response
from marshmallow import ValidationError

from hotface_api.catalogue.survival import DEFAULT_MARGIN, Question, survive
from hotface_api.http import dumps
from hotface_api.http.answer_schemas import SurvivalResults, SurvivalShape
from hotface_api.http.body import pointer
from hotface_api.http.conditional import answer, plain_answer
from hotface_api.http.context import Asked, ask, service
from hotface_api.http.lookup import known_material
from hotface_api.http.mix_schemas import QuestionSchema, SurvivalsBody, mix_of
from hotface_api.http.operations import Topic, computes, path_id, reads
from hotface_api.http.parameters import (
    Choice,
    DatedQuery,
    Flag,
    body_problem,
    word_field,
)
from hotface_api.http.problems import Code, Problem
from hotface_api.http.quantities import QuantityField
from hotface_api.mixes.request import MixError
from hotface_api.mixes.service import partners
from hotface_api.store import vocabulary as words

__all__ = ["mix_problem", "topic"]

topic = Topic("survival", __name__, url_prefix="/v1", description="Does it survive?")
_ABOUT = (
    "`yes` needs the temperature and a margin below the use limits of two origins or a standard;"
    " a melting point or a class never gives it. `no`, `borderline` and `unknown` say what limits"
    " or what is missing. The answer promises no part: fire a test piece first."
)


class SurvivalQuery(DatedQuery):
    """One question."""

    temperature = QuantityField(
        "temperature",
        temperature="point",
        required=True,
        metadata={
            "description": "Temperature of use.",
            "example": "1050 Cel",
            "in_query": True,
        },
    )
    with_ = word_field("Binder or partner material it meets.", "cac-40", data_key="with")
    place = Choice(words.PLACES, metadata={"description": "Place in the wall.", "example": "face"})
    load_ = Flag(
        data_key="load", load_default=False, metadata={"description": "Whether it carries load."}
    )
    cycling = Flag(load_default=True, metadata={"description": "Whether it heats and cools often."})
    margin = QuantityField(
        "temperature",
        temperature="difference",
        minimum=0.0,
        load_default=DEFAULT_MARGIN,
        metadata={
            "description": "Kelvins to keep below the limit; 50 K unless said, our judgement.",
            "default": f"{DEFAULT_MARGIN:g} K",
            "example": "50 K",
            "in_query": True,
        },
    )


def _question(data: Mapping[str, Any], material: str) -> Question:
    return Question(
        material=material,
        temperature=data["temperature"],
        with_=data.get("with_"),
        place=data.get("place"),
        load=data.get("load_", False),
        cycling=data.get("cycling", True),
        margin=data.get("margin", DEFAULT_MARGIN),
    )


@reads(
    topic,
    "/materials/<id>/survival",
    SurvivalQuery,
    SurvivalShape,
    summary="Does a material survive a temperature?",
    description=_ABOUT,
    path=(path_id("Material id.", "expanded-perlite"),),
)
def get_survival(query: dict[str, Any], id: str) -> Response:  # noqa: A002 - the public name
    """Answer whether a material survives."""
    asked = ask(query)
    known_material(asked.reference, id)
    if query.get("with_") is not None:
        known_material(asked.reference, query["with_"], parameter="with")
    with service().database.look() as connection:
        (found,) = survive(connection, asked.reference, [_question(query, id)])
    return answer(asked, dumps.survival(asked, found))


_QUESTION: Final = QuestionSchema()


def _read_question(asked: Asked, given: Mapping[str, Any], index: int) -> Question | Problem:
    """Read one of several questions; what is wrong with it is its own result."""
    start = ("questions", index)
    try:
        data = _QUESTION.load(given)
        known_material(asked.reference, data["material"], pointer=pointer(*start, "material"))
        if data.get("with_") is not None:
            known_material(asked.reference, data["with_"], pointer=pointer(*start, "with"))
    except ValidationError as error:
        return body_problem(error.messages, *start)
    except Problem as problem:
        return problem
    return _question(data, data["material"])


def mix_problem(error: MixError, *start: str | int) -> Problem:
    """Tell what is wrong with a mix, and where in the body."""
    place = pointer(*start) + error.pointer.removeprefix("#")
    return Problem(
        Code.INVALID_BODY,
        f"{place}: {error.message}",
        errors=[{"detail": error.message, "pointer": place}],
        nearest=error.nearest,
    )


def _mix_questions(asked: Asked, data: Mapping[str, Any]) -> list[Question | Problem]:
    """Ask about every constituent with what it meets in the mix."""
    mix = mix_of(data["mix"])
    for index, part in enumerate(mix.constituents):
        place = pointer("mix", "constituents", index, "material")
        known_material(asked.reference, part.material, pointer=place)
    return [
        _question({**data, "with_": partner}, material)
        for material, partner in partners(asked.reference, mix)
    ]


@computes(
    topic,
    "/survivals",
    DatedQuery,
    SurvivalsBody,
    SurvivalResults,
    summary="Many survival questions, or a whole mix",
    description="Questions are answered in order, each with its own status. A mix is answered for"
    " every constituent with what it meets: an aggregate with its binder, the binder with its"
    " largest aggregate. " + _ABOUT,
    asks={
        "questions": [
            {"material": "expanded-perlite", "temperature": {"value": 1050, "unit": "Cel"}},
            {"material": "chamotte", "temperature": "1200 Cel", "with": "cac-40", "place": "face"},
        ]
    },
)
def post_survivals(query: dict[str, Any], body: dict[str, Any]) -> Response:
    """Answer many survival questions."""
    asked = ask(query)
    if "questions" in body:
        given = enumerate(body["questions"])
        questions = [_read_question(asked, each, index) for index, each in given]
    else:
        questions = _mix_questions(asked, body)
    sound = [each for each in questions if isinstance(each, Question)]
    with service().database.look() as connection:
        found = iter(survive(connection, asked.reference, sound) if sound else ())
    results = [
        {"status": each.code.status, "problem": each.document()}
        if isinstance(each, Problem)
        else {"status": 200, "survival": dumps.survival(asked, next(found))}
        for each in questions
    ]
    return plain_answer(asked, {"results": results})
