"""Which material is meant: people write names, not ids."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from hotface_api.catalogue.reference import Reference
from hotface_api.http.lookup import search
from hotface_api.http.problems import nearest
from hotface_api.http.shapes import parts

__all__ = ["UnclearNameError", "find_material", "find_rows", "named_exactly", "names_of"]

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

    def rank(row: Row) -> tuple[bool, bool, str]:
        return text.casefold() not in names_of(row), not _is_named(row, text), str(row["id"])

    return sorted(search(reference.materials.values(), text, _SEARCHED), key=rank)


def _is_named(row: Row, text: str) -> bool:
    """Tell whether the words stand in the names of a material, not only in its description."""
    names = " ".join(names_of(row))
    return all(word in names for word in text.casefold().split())


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
    exact = named_exactly(reference, text)
    if exact is not None:
        return exact
    found = find_rows(reference, text)
    if len(found) == 1 and _is_named(found[0], text):
        return str(found[0]["id"])
    near = found or _alike(reference, text)  # what is only spelt alike is offered, never taken
    if not near:
        raise UnclearNameError(f"no material held is called {text!r}", ())
    message = f"{text!r} is no material held; choose one of these"
    raise UnclearNameError(message, tuple(near[:_SHOWN]))


def named_exactly(reference: Reference, text: str) -> str | None:
    """Give the id of the material that goes by a name, letter by letter; None if none does."""
    name = " ".join(text.split()).casefold()
    exact = [row for row in reference.materials.values() if name in names_of(row)]
    if not exact:
        return None
    return str(min(exact, key=lambda row: names_of(row).index(name))["id"])


def _alike(reference: Reference, text: str) -> list[Row]:
    ids = {name: row["id"] for row in reference.materials.values() for name in names_of(row)}
    return [reference.materials[key] for key in nearest(text, ids, under=ids)]
