"""The commands that ask: show, materials, survival and estimate."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

import click

from hotface import EstimateRequest, Question
from hotface_api.cli import answers
from hotface_api.cli.session import PROBLEM, Session, asking

__all__ = ["COMMANDS"]

_EXIT: Final = {"yes": 0, "borderline": 3, "unknown": 3, "no": 4}
_FLAG: Final = {"yes": True, "no": False, None: None}
_SHOW_EXAMPLE: Final = """\
\b
The club wonders what its lid aggregate insulates like when hot:
  hotface show expanded-clay
  hotface show expanded-clay thermal_conductivity --at '600 degC'
"""
_MATERIALS_EXAMPLE: Final = """\
\b
Aggregates that could face the fire of the club's kiln:
  hotface materials --kind aggregate --survives '1250 degC'
"""
_SURVIVAL_EXAMPLE: Final = """\
\b
Perlite behind the hot face of the lid, and clay at the face, bound with cement:
  hotface survival expanded-perlite '1050 degC'
  hotface survival expanded-clay,chamotte-40 '1100 degC' --with cac-40 --place face
"""
_ESTIMATE_EXAMPLE: Final = """\
\b
The club's lid, lid.toml:
  water = "11 L"
  fired = "1000 degC"
  at = ["200 degC", "600 degC"]
  [[constituents]]
  material = "cac-40"
  amount = "25 kg"
  [[constituents]]
  material = "expanded-clay"
  amount = "60 L"
  fill = "poured"

\b
Then:
  hotface estimate lid.toml
"""


def _merged(pages: Iterable[Any]) -> str:
    """Give a list as the service's JSON: its only page as it came, or all pages as one."""
    import json  # noqa: PLC0415 - needed here only

    found = list(pages)
    if len(found) == 1:
        text: str = found[0].text
        return text
    items = [item for page in found for item in page.data["items"]]
    return json.dumps({**found[0].data, "items": items, "next": None}, ensure_ascii=False)


@click.command(epilog=_SHOW_EXAMPLE)
@click.argument("material")
@click.argument("property", required=False)
@click.option("--at", multiple=True, metavar="TEMPERATURE", help="Such as '600 degC'; repeatable.")
@click.option("--form", help="Form it holds for: heap, grain, solid, paste or body.")
@click.option("--state", help="State it holds for, such as dried or fired.")
@click.option("--with", "with_", metavar="MATERIAL", help="The partner it holds with.")
@click.option("--extrapolate", is_flag=True, help="Answer outside the evidence too, marked.")
@asking
def show(
    session: Session,
    material: str,
    property: str | None,  # noqa: A002 - the word of the service
    at: tuple[str, ...],
    with_: str | None,
    **condition: Any,
) -> None:
    """Show what is known of a MATERIAL, or of one PROPERTY of it."""
    if property is None:
        if at or with_ or any(condition.values()):
            raise click.UsageError("--at and the other conditions go with a PROPERTY")
        found = session.client().material(material)
        click.echo(found.to_json() if session.as_json else answers.material(found))
        return
    answer = session.client().property(material, property, at=at or None, with_=with_, **condition)
    click.echo(answer.to_json() if session.as_json else answers.known(answer))


@click.command(epilog=_MATERIALS_EXAMPLE)
@click.option("--kind", multiple=True, help="Such as binder or aggregate; repeatable.")
@click.option("--family", multiple=True, help="Such as expanded-clay; repeatable.")
@click.option("--q", help="Words to look for.")
@click.option("--has", multiple=True, metavar="PROPERTY", help="Something is held of it.")
@click.option("--survives", metavar="TEMPERATURE", help="Only those answered yes, alone.")
@asking
def materials(session: Session, q: str | None, survives: str | None, **filters: Any) -> None:
    """List materials."""
    chosen = {name: list(words) or None for name, words in filters.items()}
    found = session.client().materials(q=q, survives=survives, **chosen)
    click.echo(_merged(found.answers()) if session.as_json else answers.materials(found.all()))


@click.command(epilog=_SURVIVAL_EXAMPLE)
@click.argument("material")
@click.argument("temperature")
@click.option("--with", "with_", metavar="MATERIAL", help="The binder or partner it touches.")
@click.option("--place", type=click.Choice(["face", "behind"]), help="Sees the fire, or not.")
@click.option("--load", type=click.Choice(["yes", "no"]), help="Whether it carries load.")
@click.option("--cycling", type=click.Choice(["yes", "no"]), help="Whether it is heated often.")
@click.option("--margin", metavar="DIFFERENCE", help="Headroom asked for, such as '50 K'.")
@click.option(
    "--exit-code", is_flag=True, help="Leave with 0 for yes, 3 for borderline or unknown, 4 for no."
)
@asking
def survival(
    session: Session,
    material: str,
    temperature: str,
    load: str | None,
    cycling: str | None,
    exit_code: bool,
    **options: Any,
) -> None:
    """Tell whether a MATERIAL survives a TEMPERATURE; several MATERIALs with commas between.

    With --exit-code the worst answer of several decides.
    """
    names = [name.strip() for name in material.split(",") if name.strip()]
    if not names:
        raise click.BadParameter("name a material", param_hint="MATERIAL")
    asked = {"load": _FLAG[load], "cycling": _FLAG[cycling], **options}
    if len(names) == 1:
        code = _one_survival(session, names[0], temperature, asked)
    else:
        code = _many_survivals(session, [Question(n, temperature, **asked) for n in names])
    if exit_code or code == PROBLEM:
        raise SystemExit(code)


def _one_survival(
    session: Session, material: str, temperature: str, asked: Mapping[str, Any]
) -> int:
    found = session.client().survives(material, temperature, **asked)
    click.echo(found.to_json() if session.as_json else answers.survival(found))
    return _EXIT[found.outcome]


def _many_survivals(session: Session, questions: list[Question]) -> int:
    """Ask in one call; a question that cannot be answered has its problem in its line."""
    client = session.client()
    if session.as_json:
        body = {"questions": [one.to_json() for one in questions]}
        answer = client.ask("POST", "/v1/survivals", None, body)
        click.echo(answer.text)
        found = [one.get("survival", {}).get("outcome") for one in answer.data["results"]]
    else:
        results = client.survivals(questions, on_problem="return")
        click.echo(answers.survivals(questions, results))
        found = [getattr(one, "outcome", None) for one in results]
    return max(_EXIT.get(outcome, PROBLEM) for outcome in found)


@click.command(epilog=_ESTIMATE_EXAMPLE)
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--save",
    type=click.Path(dir_okay=False, writable=True, path_type=Path),
    help="Also write the service's JSON to this file.",
)
@asking
def estimate(session: Session, file: Path, save: Path | None) -> None:
    """Estimate what the mix of a FILE will weigh, insulate and stand.

    The file is TOML, or JSON of the same shape or as the service takes it.
    """
    request = EstimateRequest.from_file(file)
    found = session.client().estimate(request)
    if save is not None:
        found.save(save)
    click.echo(found.to_json() if session.as_json else answers.estimate(found))


COMMANDS: Final = (show, materials, survival, estimate)
