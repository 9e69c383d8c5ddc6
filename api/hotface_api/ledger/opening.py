"""Opening and closing rows in a revision: a value, and what was proposed with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, and_, exists, insert, or_, select, update

from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.core import latest_revision
from hotface_api.ledger.errors import Code, ConflictError
from hotface_api.store.base import Base
from hotface_api.store.models import (
    Material,
    Origin,
    Revision,
    Source,
    Specimen,
    SpecimenConstituent,
    Value,
)
from hotface_api.store.read import table

__all__ = ["close_orphans", "close_value", "open_proposed", "open_revision"]

Row = Mapping[str, Any]
_LIVE: Final = ("pending", "accepted")


def open_revision(connection: Connection, now: datetime, kind: str, summary: str) -> int:
    """Advance the revision by one, in the transaction that changes what is served."""
    number = latest_revision(connection) + 1
    connection.execute(
        insert(table(Revision)).values(
            number=number,
            made_at=now,
            kind=kind,
            summary=summary,
            package_version=None,
            content_digest=None,
        )
    )
    return number


def open_proposed(
    connection: Connection, reference: Reference, proposed: Row, value: Row, number: int
) -> None:
    """Open what a value needs of what was proposed with it and is not open yet.

    Raises
    ------
    ConflictError
        ``reference_gone`` if the value refers to something that is neither held nor proposed, or
        whose id was taken by another thing since.
    """
    specimen = proposed.get("specimen")
    needs_specimen = specimen is not None and specimen["id"] == value["specimen"]
    cited = [value["source"], value["quoted_in"]]
    materials = [value["material"], value["with"]]
    recipe: Sequence[Row] = ()
    if needs_specimen and specimen is not None:
        recipe = proposed.get("constituents", ())
        cited.append(specimen["source"])
        materials += [specimen["material"], *(line["material"] for line in recipe)]
    for key in dict.fromkeys(key for key in materials if key):
        _open_material(connection, reference, proposed.get("material"), key, number)
    for key in dict.fromkeys(key for key in cited if key):
        _open_source(connection, proposed.get("sources", {}), key, number)
    if value["specimen"] and not _is_open(connection, Specimen, value["specimen"]):
        if specimen is None or not needs_specimen:
            raise _gone("specimen", value["specimen"])
        _insert(connection, Specimen, specimen, number)
        for line in recipe:
            _insert(connection, SpecimenConstituent, line, number)
    if value["property"] not in reference.properties:
        raise _gone("property", value["property"])


def _open_material(
    connection: Connection, reference: Reference, proposed: Row | None, key: str, number: int
) -> None:
    held = reference.materials.get(key)
    if proposed is None or proposed["id"] != key:
        if held is None and not _is_open(connection, Material, key):
            raise _gone("material", key)
        return
    if held is not None:
        if (held["name"], held["kind"]) != (proposed["name"], proposed["kind"]):
            raise ConflictError(
                Code.REFERENCE_GONE,
                f"the id {key} was given to another material ({held['name']}) since; the"
                " contributor should correct the submission",
                nearest=(key,),
            )
        return
    if not _is_open(connection, Material, key):
        _insert(connection, Material, proposed, number)


def _open_source(
    connection: Connection, proposed: Mapping[str, Sequence[Row]], key: str, number: int
) -> None:
    if _is_open(connection, Source, key):
        return
    if key not in proposed:
        raise _gone("source", key)
    source, origin = proposed[key]
    _insert(connection, Source, source, number)
    if not _is_open(connection, Origin, origin["id"]):
        _insert(connection, Origin, origin, number)


def _is_open(connection: Connection, model: type[Base], key: str) -> bool:
    columns = table(model).c
    statement = select(columns.row).where(columns.id == key, columns.to_revision.is_(None))
    return connection.scalar(statement) is not None


def _insert(connection: Connection, model: type[Base], row: Row, number: int) -> None:
    connection.execute(insert(table(model)).values(**row, from_revision=number, to_revision=None))


def _gone(what: str, key: str) -> ConflictError:
    return ConflictError(
        Code.REFERENCE_GONE,
        f"the {what} {key} it refers to is no longer held; the contributor should correct it",
    )


def close_value(connection: Connection, value: str, number: int) -> None:
    """End an accepted value with a revision; the row stays for the revisions before."""
    columns = table(Value).c
    connection.execute(
        update(table(Value))
        .where(columns.id == value, columns.to_revision.is_(None))
        .values(to_revision=number)
    )


def close_orphans(connection: Connection, number: int) -> None:
    """Close what contributions brought in and no open value needs any longer.

    Only after a withdrawal: a specimen without values, a text nobody cites and a material
    nothing is known of would still be listed.
    """
    value, body, line = table(Value), table(Specimen), table(SpecimenConstituent)
    source = table(Source)

    def cited(column: str, key: Any) -> ColumnElement[bool]:
        live = and_(value.c.to_revision.is_(None), value.c.status.in_(_LIVE))
        return exists().where(value.c[column] == key, live)

    def by_body(column: str, key: Any) -> ColumnElement[bool]:
        return exists().where(body.c[column] == key, body.c.to_revision.is_(None))

    _close(connection, Specimen, cited("specimen", body.c.id), number)
    owner = exists().where(body.c.id == line.c.specimen, body.c.to_revision.is_(None))
    _close(connection, SpecimenConstituent, owner, number)
    ours = source.c.id
    needed = (
        cited("source", ours),
        cited("quoted_in", ours),
        by_body("source", ours),
        by_body("quoted_in", ours),
    )
    _close(connection, Source, or_(*needed), number)
    origin = table(Origin).c.id
    used = exists().where(source.c.origin == origin, source.c.to_revision.is_(None))
    counted = or_(used, cited("origin", origin), by_body("origin", origin))
    _close(connection, Origin, counted, number)
    material = table(Material).c.id
    in_recipe = exists().where(line.c.material == material, line.c.to_revision.is_(None))
    named = (cited("material", material), cited("with", material), by_body("material", material))
    _close(connection, Material, or_(in_recipe, *named), number)


def _close(
    connection: Connection, model: type[Base], needed: ColumnElement[bool], number: int
) -> None:
    columns = table(model).c
    connection.execute(
        update(table(model))
        .where(columns.contributor.is_not(None), columns.to_revision.is_(None), ~needed)
        .values(to_revision=number)
    )
