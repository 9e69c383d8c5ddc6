"""What a search for mixes is asked: the materials on hand, what a mix must meet, what is wished."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from hotface_api.mixes.candidates import OnHand, check_on_hand
from hotface_api.mixes.request import MixError, PartsBy, State

__all__ = [
    "MAX_CANDIDATES",
    "MAX_RESULTS",
    "WISHES",
    "Musts",
    "SearchRequest",
    "Wish",
    "check_search",
]

Wish = Literal["conductivity", "density", "service_limit", "binder"]
WISHES: Final = ("conductivity", "density", "service_limit", "binder")
MAX_CANDIDATES: Final = 1_000_000
MAX_RESULTS: Final = 50


@dataclass(frozen=True, slots=True)
class Musts:
    """What a mix has to meet. SI; ``conductivity_at`` in kelvin.

    ``allow_unproven`` takes a mix of which the service limit is not proven by its high edge.
    """

    service_limit_above: float | None = None
    density_below: float | None = None
    conductivity_below: float | None = None
    conductivity_at: float | None = None
    allow_unproven: bool = False


@dataclass(frozen=True, slots=True)
class SearchRequest:
    """What is on hand and what is wanted.

    Wishes want little ``conductivity``, ``density`` or ``binder`` (the share of what sets with
    water, the dearest part) or a high ``service_limit``.
    ``water`` is kilograms of free water a kilogram of fines; what the grains soak up comes on top.
    """

    on_hand: tuple[OnHand, ...]
    shares_by: PartsBy = "loose"
    musts: Musts = Musts()
    wishes: tuple[Wish, ...] = ("conductivity", "density")
    state: State = State()  # noqa: RUF009 - frozen
    at: tuple[float, ...] = ()
    water: float = 0.42
    candidates: int = 20_000
    results: int = 10
    coverage: float = 0.9
    seed: int = 1


def check_search(asked: SearchRequest, cap: int) -> None:
    """Refuse what cannot be searched before anything is looked up.

    Parameters
    ----------
    asked : SearchRequest
    cap : int
        Most candidates allowed to this caller.

    Raises
    ------
    MixError
        With a JSON pointer into the request.
    """
    most = min(cap, MAX_CANDIDATES)
    if not 1 <= asked.candidates <= most:
        raise MixError("#/candidates", f"between 1 and {most} candidates are looked at here")
    if not 1 <= asked.results <= MAX_RESULTS:
        raise MixError("#/results", f"between 1 and {MAX_RESULTS} mixes are returned")
    if not asked.wishes or set(asked.wishes) - set(WISHES):
        raise MixError("#/wishes", f"wish for one or more of {', '.join(WISHES)}", WISHES)
    if not 0.2 <= asked.water <= 2.0:  # noqa: PLR2004 - drier does not set, wetter is a slurry
        raise MixError("#/water", "the paste takes 0.2 to 2 kg of water a kilogram of fines")
    musts = asked.musts
    if (musts.conductivity_below is None) != (musts.conductivity_at is None):
        raise MixError("#/musts/conductivity_at", "a conductivity and its temperature go together")
    for name in ("service_limit_above", "density_below", "conductivity_below"):
        value = getattr(musts, name)
        if value is not None and not value > 0:
            raise MixError(f"#/musts/{name}", "must be above zero")
    check_on_hand(asked.on_hand)
