"""Estimates and mix searches, as methods of the client."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias, overload

from hotface._asking import Asking, OnProblem, Progress
from hotface._calls import path_of
from hotface._errors import ProblemError
from hotface._quantities import QuantityLike
from hotface._results import as_text, public, read

if TYPE_CHECKING:
    from hotface._estimate import Estimate
    from hotface._measured import Measured
    from hotface._mix import Mix, PartsBy
    from hotface._request import EstimateRequest, StateKind
    from hotface._search import MixSearch, Musts, OnHand, Wish

__all__ = ["Estimating"]

AskedMix: TypeAlias = "EstimateRequest | Mix | Mapping[str, Any]"
_MIXES_A_CALL: Final = 1000
_DRAWS_A_CALL: Final = 20_000
_SECONDS_A_CANDIDATE: Final = 1e-4


class Estimating(Asking):
    """What mixes will be, and which are worth trying."""

    def estimate(
        self,
        mix: AskedMix,
        *,
        fired: QuantityLike | None = None,
        state: StateKind | Mapping[str, Any] | None = None,
        moisture: QuantityLike | float | None = None,
        at: QuantityLike | Iterable[QuantityLike] | None = None,
        measured: Measured | Mapping[str, Any] | None = None,
        coverage: float | None = None,
        seed: int | None = None,
        draws: int | None = None,
        mould: QuantityLike | None = None,
        spare: float | None = None,
        thickness: QuantityLike | None = None,
        rule: str | None = None,
        rule_options: Mapping[str, float] | None = None,
    ) -> Estimate:
        """Estimate what a mix will weigh, insulate and stand.

        See ``EstimateRequest`` for the parameters; given a request, it is sent as it is.

        Returns
        -------
        Estimate
            ``draws`` and ``casting`` are there when ``draws`` and ``mould`` were given.

        Examples
        --------
        ::

            lid = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L")
            found = db.estimate(lid, fired="1000 degC", draws=500, mould="12 L", spare=0.1)
            found.draws.thermal_conductivity.mean(axis=0)
            print(found.casting)
        """
        options = {
            "fired": fired,
            "state": state,
            "moisture": moisture,
            "at": at,
            "measured": measured,
            "coverage": coverage,
            "seed": seed,
            "draws": draws,
            "mould": mould,
            "spare": spare,
            "thickness": thickness,
            "rule": rule,
            "rule_options": rule_options,
        }
        request = self._estimate_request(mix, options)
        answer = self.ask("POST", path_of("estimates"), None, request.to_json())
        found: Estimate = read("Estimate", answer.data, answer.text, self)
        return found

    @overload
    def estimates(
        self,
        mixes: Iterable[AskedMix],
        *,
        on_problem: Literal["raise"] = ...,
        progress: Progress | None = ...,
        **options: Any,
    ) -> list[Estimate]: ...
    @overload
    def estimates(
        self,
        mixes: Iterable[AskedMix],
        *,
        on_problem: Literal["return"],
        progress: Progress | None = ...,
        **options: Any,
    ) -> list[Estimate | ProblemError]: ...
    def estimates(
        self,
        mixes: Iterable[AskedMix],
        *,
        on_problem: OnProblem = "raise",
        progress: Progress | None = None,
        **options: Any,
    ) -> Any:
        """Estimate many mixes, a thousand a call (fewer with draws).

        Parameters
        ----------
        mixes : iterable of Mix or EstimateRequest
            Options (``fired=...`` and the rest of ``estimate``) hold for every plain mix.
        on_problem : {"raise", "return"}
            Raise the problem of a mix that cannot be estimated, or put it in its place.
        progress : callable, optional
            Called after each call with how many mixes are done and how many there are.

        Returns
        -------
        list of Estimate
            In the order of the mixes.
        """
        asked = [self._estimate_request(mix, options).to_json() for mix in mixes]

        def estimate(data: dict[str, Any]) -> Any:
            return read("Estimate", data, partial(as_text, data), self)

        drawn = max((int(one.get("draws") or 0) for one in asked), default=0)
        size = min(_MIXES_A_CALL, max(1, _DRAWS_A_CALL // drawn)) if drawn else _MIXES_A_CALL
        return self._many(
            "estimates", "mixes", "estimate", asked, size, on_problem, estimate, progress
        )

    def search_mixes(
        self,
        on_hand: Iterable[OnHand],
        *,
        must: Musts | None = None,
        wishes: Iterable[Wish] | None = None,
        fired: QuantityLike | None = None,
        state: StateKind | Mapping[str, Any] | None = None,
        at: QuantityLike | Iterable[QuantityLike] | None = None,
        shares_by: PartsBy | None = None,
        water: float | None = None,
        candidates: int | None = None,
        results: int | None = None,
        coverage: float | None = None,
        seed: int | None = None,
        progress: Progress | None = None,
    ) -> MixSearch:
        """Search for mixes of what is on hand that are worth trying.

        Parameters
        ----------
        on_hand : iterable of OnHand
            Materials with the bounds of their shares.
        must : Musts, optional
            What a mix has to meet.
        wishes : iterable of {"conductivity", "density", "service_limit", "binder"}, optional
            What is wanted besides: little of each, but a high service limit. A mix is returned if
            none beats it in every wish.
        fired, state, at : optional
            The state asked about and the temperatures of the estimates, as in ``estimate``.
        shares_by : {"loose", "mass", "absolute"}, optional
            What shares are counted by.
        water : float, optional
            Free water by mass of the fines; what the grains soak up comes on top.
        candidates : int, optional
            How many mixes to look at. A service caps it for who has no key; the embedded service
            takes up to a million.
        results : int, optional
            How many mixes to return.
        coverage, seed : optional
            As in ``estimate``.
        progress : callable, optional
            Called with how many candidates were looked at and how many there are, by the embedded
            service; one over HTTP answers when it is done.

        Returns
        -------
        MixSearch
            Walk it for the mixes, the estimates beside them.
        """
        from hotface._search import search_body  # noqa: PLC0415 - needed by searches only

        body = search_body(
            on_hand, must, wishes, state=(fired, state), at=at, shares_by=shares_by, water=water,
            candidates=candidates, results=results, coverage=coverage, seed=seed,
        )  # fmt: skip
        patience = _SECONDS_A_CANDIDATE * (candidates or 0)
        answer = self.ask(
            "POST", path_of("mix-searches"), None, body, patience=patience, progress=progress
        )
        found: MixSearch = read("MixSearch", answer.data, answer.text, self)
        return found

    @staticmethod
    def _estimate_request(mix: AskedMix, options: Mapping[str, Any]) -> EstimateRequest:
        kind: type[EstimateRequest] = public("EstimateRequest")
        return kind.of(mix, {name: one for name, one in options.items() if one is not None})
