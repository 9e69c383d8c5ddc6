"""Which material is meant: people write names, not ids."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from hotface_api.catalogue.reference import Reference
from hotface_api.http.lookup import search
from hotface_api.http.problems import nearest
from hotface_api.http.shapes import parts

__all__ = ["UnclearNameError", "find_material", "find_rows", "names_of"]

Row = Mapping[str, Any]
_SEARCHED: Final = ("id", "name", "also_known_as", "description")
_SHOWN: Final = 8
_LONGEST: Final = 200


class UnclearNameError(LookupError):
    """A name that leads to no material, or to several; ``near`` holds what may be meant."""

    def __init__(self, message: str, near: tuple[Row, ...]) -> None:
        super().__init__(message)
        self.near = near


def names_of(row: Row) -> tuple[str, ...]:
    """Give every name a material goes by, in small letters.

    The material of a family whose grade is not stated also goes by the name alone.
    """
    name = str(row["name"])
    names = [row["id"], name, *parts(row["also_known_as"])]
    if name.endswith(" not stated"):
        names.insert(1, name.partition(",")[0])
    return tuple(each.casefold() for each in names)


def find_rows(reference: Reference, text: str) -> list[Row]:
    """Give the materials in which every word of a text occurs, those named so first."""
    wanted = text.casefold().split()

    def rank(row: Row) -> tuple[bool, bool, str]:
        names = " ".join(names_of(row))
        is_named = all(word in names for word in wanted)
        return text.casefold() not in names_of(row), not is_named, str(row["id"])

    return sorted(search(reference.materials.values(), text, _SEARCHED), key=rank)


def find_material(reference: Reference, text: str) -> str:
    """Give the id of the material a text names.

    Raises
    ------
    UnclearNameError
        If no name is the text; with the materials that may be meant.
    """
    text = " ".join(text.split())[:_LONGEST]
    if not text:
        raise UnclearNameError("name a material, such as expanded perlite", ())
    exact = [row for row in reference.materials.values() if text.casefold() in names_of(row)]
    if exact:
        return str(min(exact, key=lambda row: names_of(row).index(text.casefold()))["id"])
    near = find_rows(reference, text) or _alike(reference, text)
    if len(near) == 1:
        return str(near[0]["id"])
    if not near:
        raise UnclearNameError(f"no material held is called {text!r}", ())
    message = f"{text!r} is no material held; choose one of these"
    raise UnclearNameError(message, tuple(near[:_SHOWN]))


def _alike(reference: Reference, text: str) -> list[Row]:
    ids = {name: row["id"] for row in reference.materials.values() for name in names_of(row)}
    return [reference.materials[key] for key in nearest(text, ids, under=ids)]
