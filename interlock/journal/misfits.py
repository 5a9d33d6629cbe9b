"""What became of batches that do not fit where they stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from interlock.journal.schema import Batch, chain

_MOST_COMPARED = 16
"""Batches that do not fit are compared with each other's places up to so many: beyond, the work grows too much."""


class Misfit(msgspec.Struct, frozen=True):
    """A batch whose hash is not that of what it holds after what stands before it."""

    batch: Batch
    packed: bytes
    previous: str


def explained(misfits: Sequence[Misfit]) -> Iterator[tuple[int, str]]:
    """What became of each: moved, following something that was moved, or altered."""
    if len(misfits) > _MOST_COMPARED:
        for m in misfits[:_MOST_COMPARED]:
            yield m.batch.n, f"{named(m.batch)} is not as it was written where it stands"
        left = len(misfits) - _MOST_COMPARED
        yield misfits[_MOST_COMPARED].batch.n, f"{left} more batches do not follow from those before them"
        return
    hashes = {m.previous for m in misfits} | {m.batch.hash for m in misfits}
    places = {m.batch.n for m in misfits}
    for m in misfits:
        n = m.batch.n
        fits = {
            place
            for place in places
            for before in hashes
            if chain(before, msgspec.structs.replace(m.batch, n=place), m.packed) == m.batch.hash
        }
        if fits - {n}:
            yield n, f"what stands as batch {n} was written as batch {min(fits - {n})}: it has been moved"
        elif n in fits:
            yield (
                n,
                f"{named(m.batch)} is as it was written, but what stands before it is not what stood there",
            )
        else:
            yield n, f"{named(m.batch)} has been altered, or what stood before it has"


def named(batch: Batch) -> str:
    """A batch, for a person."""
    what = f"batch {batch.n}"
    if batch.inputs:
        what += f" (inputs {batch.first_input} to {batch.next_input - 1})"
    return what
