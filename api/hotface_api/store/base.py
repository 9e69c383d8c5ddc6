"""What every table is made of: the declarative base, and the columns that dated rows share."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from sqlalchemy import (
    JSON,
    CheckConstraint,
    DateTime,
    ForeignKey,
    Index,
    MetaData,
    String,
    Text,
    text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column

from hotface_api.store import vocabulary as words

__all__ = ["NAMING", "Base", "Cited", "Contributed", "Dated", "cited_checks", "one_of"]

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """Declarative base with constraint names that both databases and migrations agree on."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map: ClassVar = {
        dict[str, Any]: JSON,
        datetime: DateTime(timezone=True),
        str: String,
    }


def one_of(column: str, values: tuple[str, ...]) -> CheckConstraint:
    """Check that a column is null or one of a closed list of words."""
    listed = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f'"{column}" IN ({listed})', name=column)


class Dated:
    """Columns and indexes of every dated table."""

    row: Mapped[int] = mapped_column(primary_key=True)
    id: Mapped[str]
    from_revision: Mapped[int] = mapped_column(ForeignKey("revision.number"))
    to_revision: Mapped[int | None] = mapped_column(ForeignKey("revision.number"))

    @declared_attr.directive
    @classmethod
    def __table_args__(cls) -> tuple[Any, ...]:
        """Index the id, and allow one open row an id."""
        name = cls.__tablename__  # type: ignore[attr-defined]
        open_row = text("to_revision IS NULL")
        return (
            Index(
                f"uq_{name}_open",
                "id",
                unique=True,
                sqlite_where=open_row,
                postgresql_where=open_row,
            ),
            Index(f"ix_{name}_id", "id"),
            CheckConstraint("to_revision > from_revision", name="revisions"),
            *cls.checks(),
        )

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Give the table's own constraints and indexes."""
        return ()


class Cited:
    """How a row is known."""

    source: Mapped[str | None]
    locator: Mapped[str | None] = mapped_column(Text)
    basis: Mapped[str]
    quoted_in: Mapped[str | None]
    recalled_source: Mapped[str | None] = mapped_column(Text)
    note: Mapped[str | None] = mapped_column(Text)


class Contributed:
    """Who brought a row in; null for the published data, which only a newer package changes."""

    contributor: Mapped[str | None]


def cited_checks() -> tuple[CheckConstraint, ...]:
    """Memory cites nothing; what was read or quoted says where."""
    return (
        one_of("basis", words.BASES),
        CheckConstraint("basis <> 'memory' OR source IS NULL", name="memory_cites_nothing"),
        CheckConstraint(
            "basis NOT IN ('read', 'quoted') OR (source IS NOT NULL AND locator IS NOT NULL)",
            name="cited",
        ),
        CheckConstraint("basis <> 'quoted' OR quoted_in IS NOT NULL", name="quoted"),
    )
