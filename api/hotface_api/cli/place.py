"""``hotface compare``: which of several materials belongs where in the wall."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import click

from hotface import NotFound, ProblemError
from hotface_api.cli import PROBLEM, complete
from hotface_api.cli.ask import FLAG, exit_code_of, exit_option
from hotface_api.cli.compared import compared
from hotface_api.cli.session import Session, asking

if TYPE_CHECKING:
    from hotface import Client, PropertyAnswer, Question, Survival

__all__ = ["COMMANDS", "Compared"]

_EXAMPLE: Final = """\
\b
The club has three aggregates in the shed. Which may face the fire of the lid, and
which insulates best behind it?
  hotface compare chamotte expanded-clay expanded-perlite \\
      --temperature '1100 degC' --behind '700 degC' --with cac-40
"""
_SHOWN: Final = ("service_limit", "thermal_conductivity", "density", "thermal_expansion")
_STANDS_FOR: Final = {
    "density": ("bulk_density", "particle_density", "loose_bulk_density", "true_density"),
    "thermal_expansion": ("mean_expansion_coefficient", "thermal_strain"),
}
"""The first of these that is held stands for the word."""
_OUTCOMES: Final = {"yes": 0, "borderline": 1, "unknown": 2, "no": 3}
_LAST: Final = 4


@dataclass(frozen=True, slots=True)
class Compared:
    """A material with its answers: one survival a place, and what is held of each property.

    ``properties`` has an entry for each that was asked for: the answer, or None where nothing at
    all is held of it.
    """

    material: str
    survivals: Mapping[str, Survival | ProblemError]
    properties: Mapping[str, PropertyAnswer | None]

    def rank(self) -> tuple[float, ...]:
        """Give the order: what stands at the face first, then behind; the more headroom first."""
        outcomes: list[float] = []
        headrooms: list[float] = []
        for one in self.survivals.values():
            if isinstance(one, ProblemError):
                outcomes.append(_LAST)
                headrooms.append(0.0)
                continue
            outcomes.append(_OUTCOMES[one.outcome])
            headrooms.append(0.0 if one.headroom is None else -one.headroom.value)
        return (*outcomes, *headrooms)


@click.command(epilog=_EXAMPLE)
@click.argument(
    "material", nargs=-1, required=True, metavar="MATERIAL...", shell_complete=complete.materials
)
@click.option(
    "--temperature",
    required=True,
    metavar="TEMPERATURE",
    help="Of the place, such as '1050 degC'; without --place, of the hot face.",
)
@click.option("--place", type=click.Choice(["face", "behind"]), help="Only there; else both.")
@click.option("--behind", metavar="TEMPERATURE", help="Behind the hot face, if it is cooler there.")
@click.option(
    "--with",
    "with_",
    metavar="MATERIAL",
    help="The binder or partner each touches.",
    shell_complete=complete.materials,
)
@click.option(
    "--property",
    "wanted",
    multiple=True,
    metavar="PROPERTY",
    help="Compare this property instead of the usual ones; repeatable.",
    shell_complete=complete.properties,
)
@click.option("--load", type=click.Choice(["yes", "no"]), help="Whether it carries load.")
@click.option("--cycling", type=click.Choice(["yes", "no"]), help="Whether it is heated often.")
@click.option("--margin", metavar="DIFFERENCE", help="Headroom asked for, such as '50 K'.")
@exit_option
@asking
def compare(
    session: Session,
    material: tuple[str, ...],
    temperature: str,
    place: str | None,
    behind: str | None,
    wanted: tuple[str, ...],
    load: str | None,
    cycling: str | None,
    exit_code: bool,
    **options: Any,
) -> None:
    """Compare MATERIALs by their place in the wall: seeing the fire, or behind the hot face.

    For each: does it survive there, its use limit, conductivity at that temperature, density and
    expansion, each with its interval and how many independent origins it rests on. Best suited
    first; a hole is shown as a hole. With --exit-code the worst answer decides.
    """
    names = _names(material)
    if behind is not None and place == "face":
        raise click.UsageError("--behind is for the place that --place face leaves out")
    places = _places(temperature, place, behind)
    asked = {"load": FLAG[load], "cycling": FLAG[cycling], **options}
    client = session.client()
    questions = _questions(names, places, asked)
    last = list(places)[-1]  # behind the hot face, where insulating counts, if that is asked
    found = [
        Compared(name, survivals, _properties(client, name, wanted, places[last]))
        for name, survivals in _survivals(client, questions).items()
    ]
    found.sort(key=Compared.rank)
    if session.as_json:
        click.echo(json.dumps(_document(found), ensure_ascii=False))
    else:
        click.echo(compared(found, questions[names[0]], last))
    _leave(found, exit_code=exit_code)


def _names(material: Sequence[str]) -> list[str]:
    """Take materials apart, with commas or blanks between, each once."""
    words = [word.strip() for text in material for word in text.split(",")]
    names = list(dict.fromkeys(word for word in words if word))
    if not names:
        raise click.BadParameter("name a material", param_hint="MATERIAL")
    return names


def _places(temperature: str, place: str | None, behind: str | None) -> dict[str, str]:
    """Give the temperature at each place asked for."""
    if place == "behind":
        return {"behind": behind or temperature}
    if place == "face":
        return {"face": temperature}
    return {"face": temperature, "behind": behind or temperature}


def _questions(
    names: Sequence[str], places: Mapping[str, str], asked: Mapping[str, Any]
) -> dict[str, dict[str, Question]]:
    from hotface import Question  # noqa: PLC0415 - loads the SDK's quantities

    return {
        name: {
            place: Question(name, temperature, place=place, **asked)  # type: ignore[arg-type]
            for place, temperature in places.items()
        }
        for name in names
    }


def _survivals(
    client: Client, questions: Mapping[str, Mapping[str, Question]]
) -> dict[str, dict[str, Survival | ProblemError]]:
    """Ask all in one call and put the answers back by material and place."""
    every = [one for places in questions.values() for one in places.values()]
    found = iter(client.survivals(every, on_problem="return"))
    return {name: {place: next(found) for place in places} for name, places in questions.items()}


def _properties(
    client: Client, name: str, wanted: Sequence[str], temperature: str
) -> dict[str, PropertyAnswer | None]:
    """Ask for each property that is held; what varies with temperature, at the temperature."""
    try:
        held = {one.property: one for one in client.material(name).properties}
    except NotFound:
        return {}
    found: dict[str, PropertyAnswer | None] = {}
    for label in wanted or _SHOWN:
        asked = next((one for one in _STANDS_FOR.get(label, ()) if one in held), label)
        if asked in held:
            at = temperature if held[asked].curve else None
            found[label] = client.property(name, asked, at=at)
        elif label in wanted:
            found[label] = client.property(name, label)  # an unknown id is told with the nearest
        else:
            found[label] = None
    return found


def _document(found: Sequence[Compared]) -> dict[str, Any]:
    """Give the service's answers put together: no figure is made here."""
    return {
        "materials": [
            {
                "material": one.material,
                "survival": {
                    place: {"problem": answer.problem}
                    if isinstance(answer, ProblemError)
                    else answer.to_dict()
                    for place, answer in one.survivals.items()
                },
                "properties": {
                    name: None if answer is None else answer.to_dict()
                    for name, answer in one.properties.items()
                },
            }
            for one in found
        ]
    }


def _leave(found: Sequence[Compared], *, exit_code: bool) -> None:
    code = exit_code_of(
        getattr(one, "outcome", None) for each in found for one in each.survivals.values()
    )
    if exit_code or code == PROBLEM:
        raise SystemExit(code)


COMMANDS: Final = (compare,)
