"""The commands that look up: show, materials and survival."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from hotface_api.cli import PROBLEM, answers, complete
from hotface_api.cli.session import Session, asking

if TYPE_CHECKING:
    from hotface import Question

__all__ = ["COMMANDS", "FLAG", "exit_code_of", "exit_option", "merged"]

_EXIT: Final = {"yes": 0, "borderline": 3, "unknown": 3, "no": 4}
_A_CALL: Final = 200
FLAG: Final = {"yes": True, "no": False, None: None}
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
  hotface survival expanded-clay chamotte-40 '1100 degC' --with cac-40 --place face

\b
Everything in the shed, written down in shed.csv:
  material,place
  chamotte,face
  expanded-perlite,behind
Then:
  hotface survival --from shed.csv '1050 degC'
"""

exit_option = click.option(
    "--exit-code", is_flag=True, help="Leave with 0 for yes, 3 for borderline or unknown, 4 for no."
)


def merged(pages: Iterable[Any], name: str = "items") -> str:
    """Give a list as the service's JSON: its only page as it came, or all pages as one."""
    found = list(pages)
    if len(found) == 1:
        text: str = found[0].text
        return text
    whole = {**found[0].data, name: [item for page in found for item in page.data[name]]}
    if "next" in whole:
        whole["next"] = None
    return json.dumps(whole, ensure_ascii=False)


@click.command(epilog=_SHOW_EXAMPLE)
@click.argument("material", shell_complete=complete.materials)
@click.argument("property", required=False, shell_complete=complete.properties)
@click.option("--at", multiple=True, metavar="TEMPERATURE", help="Such as '600 degC'; repeatable.")
@click.option("--form", help="Form it holds for: heap, grain, solid, paste or body.")
@click.option("--state", help="State it holds for, such as dried or fired.")
@click.option(
    "--with",
    "with_",
    metavar="MATERIAL",
    help="The partner it holds with.",
    shell_complete=complete.materials,
)
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
@click.option(
    "--has",
    multiple=True,
    metavar="PROPERTY",
    help="Something is held of it.",
    shell_complete=complete.properties,
)
@click.option("--survives", metavar="TEMPERATURE", help="Only those answered yes, alone.")
@asking
def materials(session: Session, q: str | None, survives: str | None, **filters: Any) -> None:
    """List materials."""
    chosen = {name: list(words) or None for name, words in filters.items()}
    found = session.client().materials(q=q, survives=survives, **chosen)
    click.echo(merged(found.answers()) if session.as_json else answers.materials(found.all()))


@click.command(epilog=_SURVIVAL_EXAMPLE)
@click.argument(
    "words", nargs=-1, metavar="[MATERIAL]... [TEMPERATURE]", shell_complete=complete.materials
)
@click.option(
    "--from",
    "file",
    type=click.Path(exists=True, dir_okay=False, allow_dash=True, path_type=Path),
    help="Ask for every material of this file: a material a line, or CSV with the columns material,"
    " temperature, with, place, load, cycling and margin; - reads standard input.",
)
@click.option(
    "--with",
    "with_",
    metavar="MATERIAL",
    help="The binder or partner it touches.",
    shell_complete=complete.materials,
)
@click.option("--place", type=click.Choice(["face", "behind"]), help="Sees the fire, or not.")
@click.option("--load", type=click.Choice(["yes", "no"]), help="Whether it carries load.")
@click.option("--cycling", type=click.Choice(["yes", "no"]), help="Whether it is heated often.")
@click.option("--margin", metavar="DIFFERENCE", help="Headroom asked for, such as '50 K'.")
@exit_option
@asking
def survival(
    session: Session,
    words: tuple[str, ...],
    file: Path | None,
    load: str | None,
    cycling: str | None,
    exit_code: bool,
    **options: Any,
) -> None:
    """Tell whether each MATERIAL survives a TEMPERATURE, such as '1050 degC'.

    Several are asked in one call, also with commas between them. With --exit-code the worst answer
    decides.
    """
    asked = {"load": FLAG[load], "cycling": FLAG[cycling], **options}
    questions = _questions(words, asked) if file is None else _listed(file, words, asked)
    if len(questions) == 1 and file is None:
        code = _one_survival(session, questions[0])
    else:
        code = _many_survivals(session, questions)
    if exit_code or code == PROBLEM:
        raise SystemExit(code)


def _questions(words: Sequence[str], asked: Mapping[str, Any]) -> list[Question]:
    from hotface import Question  # noqa: PLC0415 - loads the SDK's quantities

    if len(words) < 2:  # noqa: PLR2004 - a material and a temperature
        raise click.UsageError("give a material and a temperature, such as  mullite '1050 degC'")
    *materials, temperature = words
    names = [name.strip() for word in materials for name in word.split(",") if name.strip()]
    if not names:
        raise click.BadParameter("name a material", param_hint="MATERIAL")
    return [Question(name, temperature, **asked) for name in names]


def _listed(file: Path, words: Sequence[str], asked: Mapping[str, Any]) -> list[Question]:
    from hotface_api.cli.lists import read_questions  # noqa: PLC0415 - needed for a file only

    if len(words) > 1:
        raise click.UsageError("with --from, the file names the materials; give a temperature only")
    return read_questions(file, words[0] if words else None, asked)


def _one_survival(session: Session, question: Question) -> int:
    found = session.client().survives(
        question.material,
        question.temperature,
        with_=question.with_,
        place=question.place,
        load=question.load,
        cycling=question.cycling,
        margin=question.margin,
    )
    click.echo(found.to_json() if session.as_json else answers.survival(found))
    return _EXIT[found.outcome]


def _many_survivals(session: Session, questions: list[Question]) -> int:
    """Ask in one call; a question that cannot be answered has its problem in its line."""
    client = session.client()
    if session.as_json:
        asked = [one.to_json() for one in questions]
        pages = [
            client.ask("POST", "/v1/survivals", None, {"questions": asked[at : at + _A_CALL]})
            for at in range(0, len(asked), _A_CALL)
        ]
        click.echo(merged(pages, "results"))
        results = [result for page in pages for result in page.data["results"]]
        return exit_code_of(one.get("survival", {}).get("outcome") for one in results)
    found = client.survivals(questions, on_problem="return")
    click.echo(answers.survivals(questions, found))
    return exit_code_of(getattr(one, "outcome", None) for one in found)


def exit_code_of(outcomes: Iterable[Any]) -> int:
    """Give the exit code of the worst of several outcomes; ``None`` stands for a problem."""
    return max(_EXIT.get(outcome, PROBLEM) for outcome in outcomes)


COMMANDS: Final = (show, materials, survival)
