"""What is wrong with a package, told so that it can be put right."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["Fault", "PackageError"]

_MAX_FAULTS: Final = 50
_SHOWN: Final = 10


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a package: where and what. ``row`` counts the header as row 1."""

    file: str
    row: int | None
    column: str | None
    message: str

    def __str__(self) -> str:
        """Say where, then what."""
        place = self.file
        if self.row is not None:
            place += f", row {self.row}"
        if self.column is not None:
            place += f", column {self.column}"
        return f"{place}: {self.message}"


class PackageError(ValueError):
    """A package that is refused whole; ``faults`` lists what is wrong, at most fifty."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults[:_MAX_FAULTS]
        shown = "\n".join(f"  {fault}" for fault in self.faults[:_SHOWN])
        more = f"\n  and {len(faults) - _SHOWN} more" if len(faults) > _SHOWN else ""
        super().__init__(f"the data package is refused; nothing was loaded:\n{shown}{more}")
