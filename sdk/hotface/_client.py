"""The client: one object that asks, over HTTP or in this process."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Mapping
from functools import partial
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final, Literal, Self, TypeAlias, overload

from hotface._asking import OnProblem
from hotface._cache import EtagCache
from hotface._calls import Caller, path_of
from hotface._contributing import Contributing
from hotface._embedded import open_embedded
from hotface._errors import ProblemError
from hotface._estimating import Estimating
from hotface._keys import Key, looks_like_key, named_key
from hotface._lists import Lists
from hotface._quantities import QuantityLike, several, temperature_text
from hotface._results import as_text, batch_result, items_of, public, read
from hotface._retry import RetryPolicy
from hotface._reviewing import Reviewing
from hotface._transport import HTTPTransport, Timeout, Transport
from hotface._version import agent

if TYPE_CHECKING:
    from hotface._materials import Material
    from hotface._mix import Mix
    from hotface._properties import PropertyAnswer
    from hotface._survival import Place, Question, Survival

__all__ = ["Client"]

AskedQuestion: TypeAlias = "Question | tuple[str, QuantityLike] | Mapping[str, Any]"
_QUESTIONS_A_CALL: Final = 1000


class Client(Lists, Estimating, Contributing, Reviewing):
    """Asks a hotface service, or the one embedded in this process.

    Parameters
    ----------
    base_url : str, optional
        Address of a service; left out, the embedded service answers (``hotface[server]``).
    key : str, optional
        API key; reading needs none. Left out, that of ``HOTFACE_KEY`` is used where one is needed.
        With the embedded service a key also makes it writable.
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
        Whether the embedded service may be written to without a key of one's own.

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
        held = named_key(key)
        if transport is None:
            transport = _open(base_url, held, timeout, writable=writable or held is not None)
        policy = RetryPolicy(retries) if isinstance(retries, int) else retries
        self._caller = Caller(transport, policy, EtagCache(cache), agent(), held)
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

    def material(self, material_id: str) -> Material:
        """Give a material; its held properties are attributes.

        Raises
        ------
        NotFound
            If there is no such material; ``nearest`` names ids that exist.
        """
        found: Material = self._result("Material", path_of("materials", material_id), {}, self)
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
        found: PropertyAnswer = self._result("PropertyAnswer", path, parameters, self)
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
        found: Survival = self._result("Survival", path, question.to_query(), self)
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
            "survivals",
            "questions",
            "survival",
            asked,
            _QUESTIONS_A_CALL,
            on_problem,
            self._survival,
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
        results = items_of(self._post("survivals", body), "results")
        return [
            batch_result(number, one, "survival", self._survival)
            for number, one in enumerate(results)
        ]

    def _survival(self, data: dict[str, Any]) -> Any:
        return read("Survival", data, partial(as_text, data), self)


def _open(base_url: str | None, key: Key | None, timeout: Timeout, *, writable: bool) -> Transport:
    if base_url is None:
        return open_embedded(writable=writable)
    if looks_like_key(base_url):
        raise ValueError("a key stands in the address; have it revoked, and give Client(key=)")
    transport = HTTPTransport(base_url, timeout)
    if key is not None and key.given and not transport.is_private:
        warnings.warn(
            f"the key goes to {transport.base_url} unencrypted, for others to read; use https",
            stacklevel=3,
        )
    return transport
