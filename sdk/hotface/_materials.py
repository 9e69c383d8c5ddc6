"""Materials, and their properties reached by name and asked for when needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from hotface._decode import Answered, decode, listed
from hotface._quantities import QuantityLike
from hotface._ranges import Range
from hotface._records import Caution
from hotface._show import html_table

if TYPE_CHECKING:
    from hotface._client import Client
    from hotface._curves import Curve, Which
    from hotface._functions import CurveFunction, Outside
    from hotface._pages import Pages
    from hotface._properties import PropertyAnswer
    from hotface._records import Value

__all__ = ["HeldProperty", "Material", "MaterialProperty", "MaterialSummary"]


@dataclass(frozen=True, slots=True)
class MaterialSummary:
    """A material as lists show it."""

    id: str
    name: str
    kind: str
    family: str | None
    also_known_as: tuple[str, ...]
    description: str

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> MaterialSummary:
        """Read a material of a list."""
        return decode(cls, document, also_known_as=tuple)

    def __str__(self) -> str:
        return f"{self.id}: {self.name} ({self.kind})"


@dataclass(frozen=True, slots=True)
class HeldProperty:
    """What is held of one property: values, independent origins, forms, and whether a curve."""

    property: str
    values: int
    origins: int
    forms: tuple[str, ...]
    curve: bool

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> HeldProperty:
        """Read one line of a material's properties."""
        return decode(cls, document, forms=tuple)


@dataclass(frozen=True, slots=True)
class MaterialProperty:
    """One property of one material; asks the service when something of it is wanted."""

    material: str
    name: str
    client: Client = field(repr=False, compare=False)

    def answer(
        self,
        at: Any = None,
        *,
        form: str | None = None,
        state: str | None = None,
        with_: str | None = None,
        extrapolate: bool = False,
    ) -> PropertyAnswer:
        """Ask for everything known; see ``Client.property``."""
        return self.client.property(
            self.material,
            self.name,
            at=at,
            form=form,
            state=state,
            with_=with_,
            extrapolate=extrapolate,
        )

    def at(
        self,
        temperature: QuantityLike,
        *,
        form: str | None = None,
        state: str | None = None,
        with_: str | None = None,
        extrapolate: bool = False,
    ) -> Range:
        """Give the range to expect at a temperature, such as ``"600 degC"``.

        Raises
        ------
        NoAnswer
            If nothing is held there; the message gives the service's reason.
        """
        answer = self.answer(
            [temperature], form=form, state=state, with_=with_, extrapolate=extrapolate
        )
        return answer.at_point()

    @property
    def range(self) -> Range:
        """The range to expect under the property's usual condition.

        Raises
        ------
        NoAnswer
            If none can be given; the message gives the service's reason.
        """
        return self.answer().expected

    @property
    def curve(self) -> Curve:
        """The property over temperature."""
        return self.answer().curve

    def function(
        self,
        outside: Outside = "raise",
        *,
        which: Which = "typical",
        temperature_unit: str | None = None,
        unit: str | None = None,
    ) -> CurveFunction:
        """Make a function of temperature; see ``Curve.function``."""
        return self.curve.function(
            outside, which=which, temperature_unit=temperature_unit, unit=unit
        )

    def values(self) -> Pages[Value]:
        """Give the published figures, page by page."""
        return self.client.values(material=self.material, property=self.name)

    def __str__(self) -> str:
        return str(self.answer())

    def _repr_html_(self) -> str:
        return self.answer()._repr_html_()


@dataclass(frozen=True, slots=True)
class Material(Answered):
    """A material with what is held of it; each held property is an attribute.

    Examples
    --------
    ``db.material("mullite").thermal_conductivity.at("600 degC")``
    """

    id: str
    name: str
    kind: str
    family: str | None
    also_known_as: tuple[str, ...]
    description: str
    grades: tuple[str, ...]
    properties: tuple[HeldProperty, ...]
    missing: tuple[str, ...]
    cautions: tuple[Caution, ...]
    client: Client = field(repr=False, compare=False)
    revision: int | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str, client: Client) -> Material:
        """Read an answer and keep the text it came as."""
        return decode(
            cls,
            {**document, "text": text, "client": client},
            also_known_as=tuple,
            grades=tuple,
            properties=listed(HeldProperty.from_json),
            missing=tuple,
            cautions=listed(Caution.from_json),
        )

    def get(self, name: str) -> MaterialProperty:
        """Give a property by id, whether or not something is held of it."""
        return MaterialProperty(self.id, name, self.client)

    def __getattr__(self, name: str) -> MaterialProperty:
        if name.startswith("_"):
            raise AttributeError(name)
        held = [one.property for one in self.properties]
        if name in held:
            return self.get(name)
        if name in self.missing:
            raise AttributeError(f"nothing is held of {name!r} for {self.id}; it is wanted")
        near = get_close_matches(name, held, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"held are {', '.join(held) or 'none'}"
        raise AttributeError(f"{self.id} has no property {name!r}; {hint}")

    def __dir__(self) -> list[str]:
        return [*object.__dir__(self), *(one.property for one in self.properties)]

    def __str__(self) -> str:
        held = ", ".join(one.property for one in self.properties) or "nothing"
        lines = [
            f"{self.id}: {self.name} ({self.kind})",
            f"  {self.description}",
            f"  held: {held}",
        ]
        lines += [f"  missing: {', '.join(self.missing)}"] if self.missing else []
        lines += [f"  caution: {caution}" for caution in self.cautions]
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        rows = [
            [one.property, one.values, one.origins, ", ".join(one.forms)] for one in self.properties
        ]
        notes = [self.description, *(f"Missing: {name}" for name in self.missing[:5])]
        notes += [f"Caution: {caution}" for caution in self.cautions]
        head = ["property", "values", "independent origins", "forms"]
        return html_table(f"{self.name} ({self.kind})", head, rows, notes)
