"""The commands on mixes: what one will be, and which are worth trying."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from hotface import BadQuantity
from hotface_api.cli import mixed
from hotface_api.cli.database import Progress
from hotface_api.cli.files import write_whole
from hotface_api.cli.session import LocalError, Session, asking

if TYPE_CHECKING:
    from hotface import Estimate

__all__ = ["COMMANDS"]

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
What will it be, and how much of each fills the mould of the flue collar?
  hotface estimate lid.toml
  hotface estimate lid.toml --mould '12 L' --spare 10% --thickness '50 mm'

\b
The first piece weighed less than expected; and a calculation of one's own:
  hotface estimate lid.toml --measured bulk_density='1150 kg/m3'
  hotface estimate lid.toml --draws 500 --draws-to draws.csv
"""
_SEARCH_EXAMPLE: Final = """\
\b
What the club has in the shed, shed.toml:
  fired = "1000 degC"
  at = ["600 degC"]
  wishes = ["conductivity", "density"]
  [musts]
  service_limit_above = "1000 degC"
  [[on_hand]]
  material = "cac-40"
  low = 0.15
  high = 0.4
  [[on_hand]]
  material = "expanded-clay"
  [[on_hand]]
  material = "expanded-perlite"
  high = 0.6

\b
Which mixes are worth trying? Keep them as files for  hotface estimate:
  hotface search shed.toml --keep tries
"""
_file = click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
_writable = click.Path(dir_okay=False, writable=True, path_type=Path)


@click.command(epilog=_ESTIMATE_EXAMPLE)
@_file
@click.option("--fired", metavar="TEMPERATURE", help="Fired to this instead of the file's state.")
@click.option(
    "--state",
    type=click.Choice(["fresh", "demoulded", "air-dry", "dried"]),
    help="In this state instead of the file's.",
)
@click.option("--at", multiple=True, metavar="TEMPERATURE", help="Such as '600 degC'; repeatable.")
@click.option(
    "--mould", metavar="VOLUME", help="Volume to fill, such as '12 L': what to weigh out."
)
@click.option("--thickness", metavar="LENGTH", help="Of the piece in it: how to dry it.")
@click.option("--spare", metavar="SHARE", help="Share to mix beyond the mould, such as 10%.")
@click.option(
    "--measured",
    multiple=True,
    metavar="NAME=VALUE",
    help="What you measured of the piece, such as bulk_density='1150 kg/m3', dried='980 kg/m3' or"
    " thermal_conductivity='0.3 W/(m.K) at 400 degC'; repeatable.",
)
@click.option("--rule", metavar="NAME", help="One conductivity rule for every step.")
@click.option(
    "--rule-option", multiple=True, metavar="NAME=NUMBER", help="What the rule needs; repeatable."
)
@click.option("--coverage", type=float, help="Share of cases an interval should hold.")
@click.option("--seed", type=int, help="Seed of the draws.")
@click.option("--draws", type=click.IntRange(1, 2000), help="How many draws to give.")
@click.option("--draws-to", type=_writable, help="CSV file for the draws, a row a draw.")
@click.option("--save", type=_writable, help="Also write the service's JSON to this file.")
@asking
def estimate(
    session: Session, file: Path, draws_to: Path | None, save: Path | None, **options: Any
) -> None:
    """Estimate what the mix of a FILE will weigh, insulate and stand.

    The file is TOML, or JSON of the same shape or as the service takes it. What is said here goes
    before what the file says.
    """
    from hotface_api.cli.mixfile import estimate_request  # noqa: PLC0415 - loads the SDK's mixes

    draws = options["draws"]
    if draws_to is not None and draws is None:
        raise click.UsageError("--draws-to needs --draws: how many")
    if draws is not None and draws_to is None and save is None and not session.as_json:
        raise click.UsageError("say where the draws go: --draws-to FILE, --save FILE or --json")
    found = session.client().estimate(estimate_request(file, options))
    if save is not None:
        write_whole(save, found.to_json())
    if draws_to is not None:
        _write_draws(found, draws_to)
    click.echo(found.to_json() if session.as_json else mixed.estimate(found))


def _write_draws(found: Estimate, place: Path) -> None:
    """Write the draws as a table: a row a draw, a column a property and temperature."""
    import csv  # noqa: PLC0415 - needed here only
    import io  # noqa: PLC0415

    draws = found.draws
    if draws is None:
        raise LocalError("the service sent no draws; it may be an older one")
    names: list[str] = ["draw"]
    columns: list[Sequence[Any]] = [range(1, draws.count + 1)]
    for name, values in draws.arrays.items():
        unit = draws.units[name]
        if values.ndim == 1:
            names.append(f"{name} [{unit}]")
            columns.append(values.tolist())
            continue
        for temperature, column in zip(draws.temperatures, values.T.tolist(), strict=True):
            names.append(f"{name} at {temperature:g} {draws.temperature_unit} [{unit}]")
            columns.append(column)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(names)
    writer.writerows(zip(*columns, strict=True))
    write_whole(place, text.getvalue())
    click.echo(f"{draws.count} draws written to {place}", err=True)


@click.command(epilog=_SEARCH_EXAMPLE)
@_file
@click.option(
    "--candidates",
    type=click.IntRange(1, 1_000_000),
    help="How many mixes to look at; a service caps it, the one inside takes up to a million.",
)
@click.option("--results", type=click.IntRange(1, 50), help="How many mixes to give.")
@click.option("--seed", type=int, help="Seed of the candidates.")
@click.option(
    "--keep",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the mixes found, each a file that  hotface estimate  takes.",
)
@asking
def search(session: Session, file: Path, keep: Path | None, **options: Any) -> None:
    """Search for mixes of what is on hand that are worth trying.

    The FILE says what is on hand with the least and most share of each, what a mix must meet and
    what is wished for; TOML, or JSON of the same shape or as the service takes it.
    """
    from hotface_api.cli.mixfile import search_arguments  # noqa: PLC0415 - loads the SDK's mixes

    asked = search_arguments(file, options)
    progress = Progress("candidates")
    try:
        found = session.client().search_mixes(
            **asked, progress=lambda done, total: progress("looked at", done, total)
        )
    except BadQuantity as error:  # nothing but the file says quantities
        raise LocalError(f"{file.name}: {error}") from error
    finally:
        progress.close()
    if keep is not None:
        _keep(found.mixes, keep)
    click.echo(found.to_json() if session.as_json else mixed.search(found))


def _keep(mixes: Sequence[Any], folder: Path) -> None:
    """Write each mix as a file of its own."""
    import json  # noqa: PLC0415 - needed here only

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise LocalError(f"{folder} cannot be made: {error.strerror}") from error
    for number, one in enumerate(mixes, start=1):
        text = json.dumps(one.request.to_json(), ensure_ascii=False, indent=1)
        write_whole(folder / f"mix-{number}.json", f"{text}\n")
    click.echo(f"{len(mixes)} mixes written to {folder}", err=True)


COMMANDS: Final = (estimate, search)
