"""Ids and words of a question, looked up in the reference tables.

An id that is not held is never an empty answer: it is told, with the nearest that are held.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from hotface_api.catalogue.reference import Reference
from hotface_api.http.problems import Problem, unknown_id
from hotface_api.http.shapes import parts

__all__ = ["check_ids", "known_material", "known_property", "search"]

Row = Mapping[str, Any]


def _names(reference: Reference) -> dict[str, str]:
    """Map every id, name and other name of the materials to the id."""
    names: dict[str, str] = {}
    for key, row in reference.materials.items():
        for name in (*parts(row["also_known_as"]), row["name"]):
            names.setdefault(name, key)
    names.update({key: key for key in reference.materials})
    return names


def unknown_material(
    reference: Reference, word: str, *, parameter: str | None = None, pointer: str | None = None
) -> Problem:
    """Make the problem for a material that is not held; other names lead to its id too."""
    names = _names(reference)
    return unknown_id("material", word, names, under=names, parameter=parameter, pointer=pointer)


def known_material(
    reference: Reference, word: str, *, parameter: str | None = None, pointer: str | None = None
) -> Row:
    """Give a material by id, or raise the problem that names the nearest."""
    row = reference.materials.get(word)
    if row is None:
        raise unknown_material(reference, word, parameter=parameter, pointer=pointer)
    return row


def known_property(reference: Reference, word: str) -> Row:
    """Give a property by id, or raise the problem that names the nearest."""
    row = reference.properties.get(word)
    if row is None:
        raise unknown_id("property", word, reference.properties)
    return row


def check_ids(reference: Reference, query: Mapping[str, Any], **parameters: str) -> None:
    """Check that every id of some parameters is held.

    Parameters
    ----------
    reference : Reference
    query : mapping
        The query as read.
    **parameters : str
        For each parameter, the kind of id it takes: ``material``, ``property``, ``family``,
        ``source`` or ``origin``.
    """
    held: dict[str, Mapping[str, Any]] = {
        "family": reference.families,
        "property": reference.properties,
        "source": reference.source_types,
        "origin": reference.origins,
    }
    for parameter, what in parameters.items():
        for word in query.get(parameter) or ():
            if what == "material":
                known_material(reference, word, parameter=parameter)
            elif word not in held[what]:
                raise unknown_id(what, word, held[what], parameter=parameter)


def search(rows: Iterable[Row], text: str | None, fields: Sequence[str]) -> list[Row]:
    """Keep the rows where every word of a text stands in one of the fields, in either case."""
    if text is None:
        return list(rows)
    words = text.casefold().split()

    def matches(row: Row) -> bool:
        haystack = "\n".join(str(row[field] or "") for field in fields).casefold()
        return all(word in haystack for word in words)

    return [row for row in rows if matches(row)]
