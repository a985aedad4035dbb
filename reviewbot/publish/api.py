"""JSON over HTTP to a code host: patient where it asks for patience, silent about the token."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

import httpx

from reviewbot.errors import HostAwayError, HostError
from reviewbot.publish.clock import Clock

Json = Any  # what a host answers is checked where it is used

_ATTEMPTS = 6
_LONGEST_WAIT = 900.0  # seconds in all for one call
_WRITES, _WINDOW = 80, 60.0  # hosts take about 80 writes a minute
_PASSING = frozenset({500, 502, 503, 504})


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the host sent back: a status, headers in lower case, a decoded body or None."""

    status: int
    headers: Mapping[str, str]
    body: Json


@dataclass(frozen=True, slots=True, kw_only=True)
class _Call:
    """What is sent; `shown` names it in errors."""

    method: str
    address: str
    shown: str
    json: Json = None
    query: Mapping[str, str | int] | None = None
    allow: frozenset[int] = frozenset()
    once: bool = False
    files: Mapping[str, tuple[str, bytes]] | None = None


class UnsureError(HostAwayError):
    """A write that must not be made twice may have been made: look before trying again."""


class Api:
    """Calls below one base address.

    Raises HostError with the method, the path and the host's own words, never with a header;
    HostAwayError where trying again later may help, be it with another token.
    """

    def __init__(
        self,
        base: str,
        *,
        headers: Mapping[str, str],
        clock: Clock,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        self._base = _checked(base)
        self._clock = clock
        self._client = httpx.Client(headers=headers, timeout=30.0, transport=transport)
        self._writes: deque[float] = deque(maxlen=_WRITES)

    def close(self) -> None:
        self._client.close()

    def call(
        self,
        method: str,
        path: str,
        *,
        json: Json = None,
        allow: frozenset[int] = frozenset(),
        once: bool = False,
    ) -> Answer:
        """One call, made again where the host is busy or away for a moment.

        path   below the base address, beginning with a slash
        allow  statuses from 400 on that are answers as well
        once   the write must not be made twice: raises UnsureError where it may have been made
        """
        return self._until_answered(
            _Call(
                method=method,
                address=self._base + path,
                shown=f"{method} {path}",
                json=json,
                allow=allow,
                once=once,
            )
        )

    def upload(self, path: str, field: str, file: tuple[str, bytes]) -> Json:
        """Sends one file as a form's field; what the host says of it. file  its name and bytes"""
        call = _Call(
            method="POST",
            address=self._base + path,
            shown=f"POST {path}",
            files={field: file},
        )
        return self._until_answered(call).body

    def pages(self, path: str, query: Mapping[str, str | int] | None = None) -> Iterator[Json]:
        """Every item of a list, page by page, as the ``Link`` headers lead."""
        shown = f"GET {path}"
        first = {"per_page": 100, **(query or {})}
        call = _Call(method="GET", address=self._base + path, shown=shown, query=first)
        while True:
            answer = self._until_answered(call)
            if not isinstance(answer.body, list):
                raise HostError(f"{shown}: a list was expected")
            yield from answer.body
            following = self._next_page(answer)
            if following is None:
                return
            call = _Call(method="GET", address=following, shown=shown)

    def _next_page(self, answer: Answer) -> str | None:
        links = httpx.Response(200, headers={"link": answer.headers.get("link", "")}).links
        following = links.get("next", {}).get("url")
        if following is not None and _origin(following) != _origin(self._base):
            raise HostError("the host's next page lies elsewhere")  # the token stays here
        return following

    def _until_answered(self, call: _Call) -> Answer:
        waited = 0.0
        for attempt in range(_ATTEMPTS):
            answer = self._send(call)
            if answer is not None and answer.status < 300:
                return answer
            if call.once and (answer is None or answer.status in _PASSING):
                raise UnsureError(f"{call.shown}: {_words(answer)}")
            wait = seconds_to_wait(answer, attempt=attempt, now=self._clock.now())
            if answer is not None and wait is None and answer.status in call.allow:
                return answer
            if wait is None:
                is_token = answer is not None and answer.status == 401
                refused = HostAwayError if is_token else HostError
                raise refused(f"{call.shown}: {_words(answer)}")
            if waited + wait > _LONGEST_WAIT or attempt == _ATTEMPTS - 1:
                raise HostAwayError(f"{call.shown}: {_words(answer)}")
            self._clock.sleep(wait)
            waited += wait
        raise AssertionError("the last attempt returns or raises")

    def _send(self, call: _Call) -> Answer | None:
        """The answer, or None where none came."""
        if call.method != "GET":
            self._pace()
        try:
            reply = self._client.request(
                call.method, call.address, json=call.json, params=call.query, files=call.files
            )
        except httpx.TransportError:
            return None
        return Answer(
            status=reply.status_code,
            headers={name.lower(): value for name, value in reply.headers.items()},
            body=_decoded(reply),
        )

    def _pace(self) -> None:
        """Waits until another write fits into the minute."""
        now = self._clock.now()
        if len(self._writes) == _WRITES and now - self._writes[0] < _WINDOW:
            self._clock.sleep(_WINDOW - (now - self._writes[0]))
        self._writes.append(self._clock.now())


def seconds_to_wait(answer: Answer | None, *, attempt: int, now: float) -> float | None:
    """How long to wait before a call is made again; None where that would not help.

    In this order: what ``retry-after`` says, the moment ``x-ratelimit-reset`` where the limit is
    used up, a minute and then twice as long for a limit without a word on its end, and seconds
    that double for a host that is away. No answer (None) counts as away.
    """
    if answer is None or answer.status in _PASSING:
        after = _number(answer, "retry-after")
        return after if after is not None else math.ldexp(1.0, attempt)
    if answer.status not in (403, 429):
        return None
    after = _number(answer, "retry-after")
    if after is not None:
        return after
    reset = _number(answer, "x-ratelimit-reset")
    if answer.headers.get("x-ratelimit-remaining") == "0" and reset is not None:
        return max(0.0, reset - now) + 1.0
    if answer.status == 429 or "rate limit" in _words(answer).lower():
        return math.ldexp(60.0, attempt)
    return None


def _number(answer: Answer | None, header: str) -> float | None:
    text = "" if answer is None else answer.headers.get(header, "")
    return float(text) if text.isascii() and text.isdigit() else None


def _words(answer: Answer | None) -> str:
    """What the host says about it, cut short."""
    if answer is None:
        return "the host cannot be reached"
    if 300 <= answer.status < 400:
        return f"the host answers {answer.status}: it has moved, give the new address"
    said = answer.body.get("message", "") if isinstance(answer.body, dict) else ""
    text = " ".join(str(said).split())[:200]
    return f"the host answers {answer.status}" + (f": {text}" if text else "")


def _decoded(reply: httpx.Response) -> Json:
    try:
        return reply.json()
    except ValueError:
        return None


def _checked(base: str) -> str:
    parts = urlsplit(base)
    if parts.scheme not in ("http", "https") or not parts.hostname or "@" in parts.netloc:
        raise HostError("the host's address must be http(s)://… without a name or password in it")
    return base.rstrip("/")


def _origin(address: str) -> tuple[str, str]:
    parts = urlsplit(address)
    return parts.scheme, parts.netloc
