"""The client: one object that asks, over HTTP or in this process."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final, Literal, Self, TypeAlias, TypeVar, overload

from hotface._cache import EtagCache
from hotface._calls import JSON, Answer, Caller, path_of, query_of
from hotface._embedded import open_embedded
from hotface._errors import ProblemError
from hotface._lists import Lists
from hotface._quantities import QuantityLike, several, temperature_text
from hotface._results import as_text, batch_result, build, public, read
from hotface._retry import RetryPolicy
from hotface._transport import HTTPTransport, Request, Timeout, Transport
from hotface._version import agent

if TYPE_CHECKING:
    from hotface._estimate import Estimate
    from hotface._materials import Material
    from hotface._mix import Mix, OwnFigure
    from hotface._properties import PropertyAnswer
    from hotface._request import EstimateRequest, StateKind
    from hotface._survival import Place, Question, Survival

__all__ = ["Client", "OnProblem"]

T = TypeVar("T")
OnProblem = Literal["raise", "return"]
AskedMix: TypeAlias = "EstimateRequest | Mix | Mapping[str, Any]"
AskedQuestion: TypeAlias = "Question | tuple[str, QuantityLike] | Mapping[str, Any]"
_QUESTIONS_A_CALL: Final = 200
_MIXES_A_CALL: Final = 20


class Client(Lists):
    """Asks a hotface service, or the one embedded in this process.

    Parameters
    ----------
    base_url : str, optional
        Address of a service; left out, the embedded service answers (``hotface[server]``).
    key : str, optional
        API key; reading needs none.
    timeout : float or (float, float)
        Seconds to wait for the connection and for the next bytes of an answer.
    retries : int or RetryPolicy
        How often to ask again when the service is away, busy or asks to wait.
    transport : Transport, optional
        Sends instead of either; for tests and other ways to reach a service.
    units : {"si", "us"}
        Units of the answers. What you give may always be in any unit.
    revision : int, optional
        Answer as at this revision of the data, to repeat a calculation; the latest by default.
    cache : int
        How many answers to keep for conditional requests.
    writable : bool
        Whether the embedded service may be written to.

    Raises
    ------
    NotInstalled
        Without ``base_url``, if the embedded service is not installed.

    Examples
    --------
    ::

        db = Client()
        db.survives("expanded-perlite", "1050 degC").outcome
        db.material("mullite").thermal_conductivity.at("600 degC")
        lid = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L")
        k = db.estimate(lid, fired="1000 degC").thermal_conductivity.function()
    """

    def __init__(
        self,
        base_url: str | None = None,
        *,
        key: str | None = None,
        timeout: Timeout = (5, 30),
        retries: int | RetryPolicy = 3,
        transport: Transport | None = None,
        units: Literal["si", "us"] = "si",
        revision: int | None = None,
        cache: int = 128,
        writable: bool = False,
    ) -> None:
        if units not in ("si", "us"):
            raise ValueError(f"units must be 'si' or 'us', not {units!r}")
        if base_url is not None and (transport is not None or writable):
            raise ValueError("base_url goes with neither transport nor writable; leave one out")
        if base_url is None and key is not None:
            raise ValueError("a key is for a service; give its base_url too")
        if transport is None:
            transport = _open(base_url, key, timeout, writable=writable)
        policy = RetryPolicy(retries) if isinstance(retries, int) else retries
        self._caller = Caller(transport, policy, EtagCache(cache), agent())
        self._common = {"units": "us" if units == "us" else None, "revision": revision}

    def __repr__(self) -> str:
        return f"Client({self._caller.transport!r})"

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give back connections."""
        self._caller.close()

    def ask(
        self,
        method: str,
        path: str,
        parameters: Mapping[str, Any] | None = None,
        body: Mapping[str, Any] | None = None,
    ) -> Answer:
        """Ask anything of the service: the way to routes that have no method here.

        Parameters
        ----------
        method, path : str
            Such as ``"GET"`` and ``"/v1/holdings"``.
        parameters : mapping, optional
            Query parameters.
        body : mapping, optional
            A JSON object to send.

        Returns
        -------
        Answer
            ``data``, the object as read, and ``text``, as it was sent.
        """
        query = query_of({**(parameters or {}), **self._common})
        if body is None:
            return self._caller.answer(Request(method, path, query))
        sent = json.dumps(body, ensure_ascii=False, allow_nan=False).encode()
        return self._caller.answer(Request(method, path, query, {"Content-Type": JSON}, sent))

    def material(self, material_id: str) -> Material:
        """Give a material; its held properties are attributes.

        Raises
        ------
        NotFound
            If there is no such material; ``nearest`` names ids that exist.
        """
        answer = self._one("materials", material_id)
        found: Material = read("Material", answer.data, answer.text, self)
        return found

    def property(
        self,
        material: str,
        property: str,  # noqa: A002 - the word of the trade
        *,
        at: QuantityLike | Iterable[QuantityLike] | None = None,
        form: str | None = None,
        state: str | None = None,
        with_: str | None = None,
        extrapolate: bool = False,
    ) -> PropertyAnswer:
        """Give what is known of a property of a material.

        Parameters
        ----------
        material, property : str
            Their ids.
        at : quantity or iterable of quantities, optional
            Temperatures to answer at; left out, the whole curve comes.
        form, state, with_ : str, optional
            The condition to answer for; the property's usual one by default.
        extrapolate : bool
            Whether to answer outside the evidence, marked as such.

        Returns
        -------
        PropertyAnswer
        """
        parameters = {
            "at": None if at is None else [temperature_text(one, "at") for one in several(at)],
            "form": form,
            "state": state,
            "with": with_,
            "extrapolate": True if extrapolate else None,
        }
        path = path_of("materials", material, "properties", property)
        answer = self.ask("GET", path, parameters)
        found: PropertyAnswer = read("PropertyAnswer", answer.data, answer.text)
        return found

    def survives(
        self,
        material: str,
        temperature: QuantityLike,
        *,
        with_: str | None = None,
        place: Place | None = None,
        load: bool | None = None,
        cycling: bool | None = None,
        margin: QuantityLike | None = None,
    ) -> Survival:
        """Tell whether a material survives a temperature; see ``Question`` for the parameters.

        Returns
        -------
        Survival
            Compare its ``outcome``; the object itself is neither true nor false.
        """
        asked = (material, temperature, with_, place, load, cycling, margin)
        question: Question = public("Question")(*asked)
        path = path_of("materials", material, "survival")
        answer = self.ask("GET", path, question.to_query())
        found: Survival = read("Survival", answer.data, answer.text)
        return found

    @overload
    def survivals(
        self, questions: Iterable[AskedQuestion], *, on_problem: Literal["raise"] = ...
    ) -> list[Survival]: ...
    @overload
    def survivals(
        self, questions: Iterable[AskedQuestion], *, on_problem: Literal["return"]
    ) -> list[Survival | ProblemError]: ...
    def survivals(
        self, questions: Iterable[AskedQuestion], *, on_problem: OnProblem = "raise"
    ) -> Any:
        """Answer many survival questions in few calls.

        Parameters
        ----------
        questions : iterable
            ``Question`` objects or ``(material, temperature)`` pairs.
        on_problem : {"raise", "return"}
            What to do with a question that cannot be answered: raise its problem (``index`` tells
            which it was), or put the problem in its place.

        Returns
        -------
        list of Survival
            In the order of the questions.
        """
        kind: type[Question] = public("Question")
        asked = [kind.of(one).to_json() for one in questions]
        return self._many(
            "survivals", "questions", "survival", asked, _QUESTIONS_A_CALL, on_problem, _survival
        )

    def mix_survives(
        self,
        mix: Mix | Mapping[str, Any],
        temperature: QuantityLike,
        *,
        place: Place | None = None,
        load: bool | None = None,
        cycling: bool | None = None,
        margin: QuantityLike | None = None,
    ) -> list[Survival]:
        """Tell for each constituent of a mix whether it survives with what it meets there.

        Returns
        -------
        list of Survival
            In the order of the mix: an aggregate with its binder, the binder with its largest
            aggregate.
        """
        asked = public("Question")("", temperature, None, place, load, cycling, margin).to_json()
        del asked["material"]
        body = {"mix": public("EstimateRequest")(mix).to_json()["mix"], **asked}
        results = build(lambda data: data["results"], self._post("survivals", body))
        return [
            batch_result(number, one, "survival", _survival) for number, one in enumerate(results)
        ]

    def estimate(
        self,
        mix: AskedMix,
        *,
        fired: QuantityLike | None = None,
        state: StateKind | Mapping[str, Any] | None = None,
        moisture: QuantityLike | float | None = None,
        at: QuantityLike | Iterable[QuantityLike] | None = None,
        measured: Mapping[str, OwnFigure] | None = None,
        coverage: float | None = None,
        seed: int | None = None,
    ) -> Estimate:
        """Estimate what a mix will weigh, insulate and stand.

        See ``EstimateRequest`` for the parameters; given a request, it is sent as it is.

        Returns
        -------
        Estimate
        """
        options = {
            "fired": fired,
            "state": state,
            "moisture": moisture,
            "at": at,
            "measured": measured,
            "coverage": coverage,
            "seed": seed,
        }
        request = self._estimate_request(mix, options)
        answer = self.ask("POST", path_of("estimates"), None, request.to_json())
        found: Estimate = read("Estimate", answer.data, answer.text, self)
        return found

    @overload
    def estimates(
        self, mixes: Iterable[AskedMix], *, on_problem: Literal["raise"] = ..., **options: Any
    ) -> list[Estimate]: ...
    @overload
    def estimates(
        self, mixes: Iterable[AskedMix], *, on_problem: Literal["return"], **options: Any
    ) -> list[Estimate | ProblemError]: ...
    def estimates(
        self, mixes: Iterable[AskedMix], *, on_problem: OnProblem = "raise", **options: Any
    ) -> Any:
        """Estimate many mixes in few calls.

        Parameters
        ----------
        mixes : iterable of Mix or EstimateRequest
            Options (``fired=...`` and the rest of ``estimate``) hold for every plain mix.
        on_problem : {"raise", "return"}
            Raise the problem of a mix that cannot be estimated, or put it in its place.

        Returns
        -------
        list of Estimate
            In the order of the mixes.
        """
        asked = [self._estimate_request(mix, options).to_json() for mix in mixes]

        def estimate(data: dict[str, Any]) -> Any:
            return read("Estimate", data, as_text(data), self)

        return self._many(
            "estimates", "mixes", "estimate", asked, _MIXES_A_CALL, on_problem, estimate
        )

    @staticmethod
    def _estimate_request(mix: AskedMix, options: Mapping[str, Any]) -> EstimateRequest:
        kind: type[EstimateRequest] = public("EstimateRequest")
        return kind.of(mix, {name: one for name, one in options.items() if one is not None})

    def _post(self, route: str, body: Mapping[str, Any]) -> dict[str, Any]:
        return self.ask("POST", path_of(route), None, body).data

    def _many(
        self,
        route: str,
        name: str,
        part: str,
        asked: Sequence[dict[str, Any]],
        size: int,
        on_problem: OnProblem,
        make: Callable[[dict[str, Any]], T],
    ) -> list[T | ProblemError]:
        """Ask in batches of ``size`` and read the results in order."""
        found: list[T | ProblemError] = []
        for start in range(0, len(asked), size):
            data = self._post(route, {name: asked[start : start + size]})
            for result in build(lambda data: data["results"], data):
                try:
                    found.append(batch_result(len(found), result, part, make))
                except ProblemError as problem:
                    if on_problem == "raise":
                        raise
                    found.append(problem)
        return found


def _open(base_url: str | None, key: str | None, timeout: Timeout, *, writable: bool) -> Transport:
    if base_url is None:
        return open_embedded(writable=writable)
    return HTTPTransport(base_url, key, timeout)


def _survival(data: dict[str, Any]) -> Any:
    return read("Survival", data, as_text(data))
