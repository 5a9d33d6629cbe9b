"""What a station and a desk say to each other over a broker: topics and payloads.

::

    longlace/SITE/STATION/status              retained, last will     Status   station
    longlace/SITE/STATION/ADAPTER/reading                             Said     station
    longlace/SITE/STATION/ADAPTER/answer                              Answer   station
    longlace/SITE/desk/STATION/ADAPTER                                Ask      desk

So a station writes only below its own name, and an ACL can hold it to that. Payloads are JSON arrays,
each beginning with its kind and with whom it is of (``SITE/STATION/ADAPTER``). Seconds are the
sender's own monotonic ones. Everything goes with QoS 0 (status: 1): readings are numbered and the desk asks
for what is missing, end to end, which no QoS of MQTT gives once a broker has restarted.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal, TypeVar

import msgspec

from interlock.signals import Contacts, Counts, Positions, Presence, Reading, finite
from interlock.text import clean

MOST_BYTES = 16_384
"""Sixty-four inputs are 2 kB; what is larger is not read at all."""
MOST_WANTED = 500
"""Readings asked for at a time."""
DESK = "desk"
"""No station may be called that."""

Number = Annotated[int, msgspec.Meta(ge=0, lt=2**53)]
Token = Annotated[str, msgspec.Meta(min_length=0, max_length=40)]
Of = Annotated[str, msgspec.Meta(max_length=120)]


class Status(msgspec.Struct, frozen=True, tag="status", array_like=True, forbid_unknown_fields=True):
    """``life`` counts the station's connections: what bears an older one is a replay, or a will that came late."""

    of: Of
    life: Number
    state: Literal["up", "gone"]


class Said(msgspec.Struct, frozen=True, tag="said", array_like=True, forbid_unknown_fields=True):
    """Reading number ``n`` (from 1) of the journal called ``journal``, in the station's seconds."""

    of: Of
    journal: Token
    n: Number
    reading: Reading


class Ask(msgspec.Struct, frozen=True, tag="ask", array_like=True, forbid_unknown_fields=True):
    """The desk's question, four times a second: the station's heartbeat, stamps, and what has arrived.

    ``desk``: who asks; ``k``: which question; ``journal``: the one that the desk knows, empty at first; ``have``:
    every reading up to this one has arrived; ``want``: send these again, both included.
    """

    of: Of
    desk: Token
    k: Number
    journal: Token
    have: Number
    want: tuple[Number, Number] | None = None


class Answer(msgspec.Struct, frozen=True, tag="answer", array_like=True, forbid_unknown_fields=True):
    """``got_s``, ``sent_s``: the station's seconds of the question's coming and the answer's going.

    ``first``: the oldest reading still kept (``last`` + 1: none); ``last``: the newest there is.
    """

    of: Of
    desk: Token
    k: Number
    journal: Token
    got_s: float
    sent_s: float
    first: Number
    last: Number


Word = TypeVar("Word", Status, Said, Ask, Answer)
_DECODERS = {kind: msgspec.json.Decoder(kind) for kind in (Status, Said, Ask, Answer)}
_ENCODER = msgspec.json.Encoder()


def encode(word: Status | Said | Ask | Answer) -> bytes:
    """The payload."""
    return _ENCODER.encode(word)


def decode(kind: type[Word], payload: object, of: str) -> Word | None:
    """The word; None for what is too large, is no such word, or is of somebody else."""
    if not isinstance(payload, bytes | bytearray) or len(payload) > MOST_BYTES:
        return None
    try:
        word: Word = _DECODERS[kind].decode(payload)  # type: ignore[assignment]
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
    return word if word.of == of else None


def status_topic(site: str, station: str) -> str:
    """Where a station says whether it is there."""
    return f"longlace/{site}/{station}/status"


def adapter_topic(site: str, station: str, adapter: str, what: Literal["reading", "answer"]) -> str:
    """Where a station says what an adapter said."""
    return f"longlace/{site}/{station}/{adapter}/{what}"


def desk_topic(site: str, station: str, adapter: str) -> str:
    """Where the desk asks."""
    return f"longlace/{site}/{DESK}/{station}/{adapter}"


def numbers_of(reading: Reading) -> list[float]:
    """Every number in it that must be finite."""
    found = [reading.at_s, reading.fact_s]
    if isinstance(reading, Counts):
        for _, frames, pulse_s in reading.values:
            found += [frames] if pulse_s is None else [frames, pulse_s]
    elif isinstance(reading, Positions):
        found += [position for _, position in reading.values]
    return found


def in_order(reading: Reading) -> bool:
    """Whether its numbers are numbers, and true no later than received."""
    return all(finite(x) for x in numbers_of(reading)) and reading.fact_s <= reading.at_s


def moved(reading: Reading, adapter: str, at_s: float, to: Callable[[float], float]) -> Reading:
    """The reading with its facts moved into other seconds by ``to``, received at ``at_s`` from ``adapter``."""
    fact_s = min(to(reading.fact_s), at_s)
    if isinstance(reading, Contacts):
        return Contacts(at_s, fact_s, adapter, reading.values, reading.missing)
    if isinstance(reading, Positions):
        return Positions(at_s, fact_s, adapter, reading.values)
    if isinstance(reading, Counts):
        values = tuple((s, n, None if p is None else min(to(p), at_s)) for s, n, p in reading.values)
        return Counts(at_s, fact_s, adapter, values)
    return Presence(
        at_s,
        fact_s,
        adapter,
        reading.state,
        reading.lines,
        reading.bad_lines,
        reading.lost_lines,
        clean(reading.text, 500),
    )
