"""Run the campaign: ``python -m tests.campaign --shows 10000 [--full | --marked | --whole]``, or one show again: ``--seed N``."""

from __future__ import annotations

import argparse
import gc
import math
import os
import sys
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor

from rich.progress import track

from interlock.watch.state import AlarmLine, encode
from tests.campaign.again import findings_again
from tests.campaign.drive import Run, run
from tests.campaign.oracle import Oracle
from tests.campaign.oracle_forecast import Spans
from tests.campaign.oracle_way import findings_on_the_way
from tests.campaign.whole import Whole, run_whole

AGAIN_EVERY = 10
"""Every tenth show is folded again from its record's form, with ticks thrown in."""


FEW_SAID = 5000
NORMALISED = (0.1, 1.0)
"""Bounds of the root mean square of error/σ: a σ that is honest is never too small, and says something."""
COVERED = (0.85, 0.95)
"""Bounds of the share of creeps of which the 90 % interval to the limit holds the true time (issue 4)."""
COVERED_LONG = (0.85, 1.0)
"""The same in shows of two hours: the rate is known so well by then that what an interval leaves open is where between two
pulses the loop stood when it was threaded, and these booths are threaded in frame."""
BOUNDED = (0.02, 0.15)
"""Bounds of the share of loops at rest of which an interval is said all the same: by two tails of 5 % it is 10 %."""
FEW_CREEPS = 150_000
"""A loop that creeps is asked once a second, and what is wrong of it once is wrong for a while: fewer decide nothing. (These
booths are threaded in frame, so their intervals hold rather more than nine in ten: 93.7 to 94.6 % of each 2,000 shows of ten.)"""

Job = tuple[int, str]
"""A seed, and how it is run: ``short``, ``full``, ``marked`` or ``whole``."""


def run_as(seed: int, how: str) -> Run:
    """The show of ``seed``."""
    return run_whole(seed) if how == "whole" else run(seed, full=how == "full", marked=how == "marked")


def findings_of(show: Run, oracle: Oracle) -> Iterator[str]:
    """Everything that is wrong with a show, however it was run."""
    yield from oracle.findings()
    if isinstance(show, Whole):
        yield from findings_on_the_way(show)
        return
    if show.seed % AGAIN_EVERY == 0:
        yield from findings_again(show)


Judged = tuple[int, list[str], tuple[int, float], Spans]
"""A seed, its findings, (n, Σ (error/σ)²) of the drifts that were said, and how the intervals to a limit fared."""


def judge_seed(job: Job) -> Judged:
    """The findings of one show."""
    seed, how = job
    try:
        show = run_as(seed, how)
        oracle = Oracle(show)
        return seed, list(findings_of(show, oracle)), oracle.errors, oracle.spans
    # A show that stops the desk is a finding like any other, to be printed with its seed.
    except Exception as fault:  # noqa: BLE001
        return seed, [f"the desk or the oracle failed: {type(fault).__name__}: {fault}"], (0, 0.0), Spans()


def campaign(jobs: list[Job]) -> Iterable[Judged]:
    """All of them, in all processors, in order."""
    gc.freeze()  # what was imported stays: no worker need look through it for what nobody needs any more
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        results = pool.map(judge_seed, jobs, chunksize=8 if jobs and jobs[0][1] == "short" else 1)
        yield from track(results, description="shows", total=len(jobs), disable=not sys.stderr.isatty())


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaign")
    parser.add_argument("--shows", type=int, default=300)
    parser.add_argument("--first", type=int, default=0)
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--full", action="store_const", dest="how", const="full", help="full-length shows")
    how.add_argument(
        "--whole",
        action="store_const",
        dest="how",
        const="whole",
        help="through serial lines, bus and record",
    )
    how.add_argument(
        "--marked",
        action="store_const",
        dest="how",
        const="marked",
        help="no counters, and a crew that marks splices",
    )
    parser.set_defaults(how="short")
    parser.add_argument("--seed", type=int, help="this one alone, with everything that was said")
    parser.add_argument(
        "--until-found", action="store_true", help="in this process alone, to the first finding"
    )
    args = parser.parse_args()
    if args.seed is not None:
        return _one(args.seed, args.how)
    if args.until_found:
        return _until_found(args.first, args.shows, args.how)
    failed = said = 0
    squares, spans = 0.0, Spans()
    for seed, findings, (n, z2), more in campaign([(args.first + n, args.how) for n in range(args.shows)]):
        failed += bool(findings)
        said, squares = said + n, squares + z2
        spans.add(more)
        for text in findings:
            print(f"seed {seed}: {text}\n    again: {again(seed, args.how)}", flush=True)
    honest = all([_honest(said, squares), _foreseen(spans, args.how == "full")])
    print(f"{args.shows} shows, {failed} with findings")
    return 1 if failed or not honest else 0


def _honest(said: int, squares: float) -> bool:
    """Whether σ is what it should be over all shows together: neither too small nor of no use."""
    if said < FEW_SAID:
        return True
    rms = math.sqrt(squares / said)
    print(
        f"normalised error of {said} drifts: rms {rms:.3f}, to be within {NORMALISED[0]} and {NORMALISED[1]}"
    )
    return NORMALISED[0] <= rms <= NORMALISED[1]


def _foreseen(spans: Spans, full: bool) -> bool:
    """Whether the 90 % intervals to a limit are what they are called, over all shows together."""
    if min(spans.creeps, spans.rests) < FEW_SAID:
        return True
    holds, rests = COVERED_LONG if full else COVERED, BOUNDED
    covered, bounded = spans.inside / spans.creeps, spans.bounded / spans.rests
    print(
        f"90 % intervals: {covered:.1%} of {spans.creeps} creeps within, to be within {holds[0]:.1%} and {holds[1]:.1%}; "
        f"said of {bounded:.1%} of {spans.rests} loops at rest, to be within {rests[0]:.1%} and {rests[1]:.1%}"
    )
    if spans.creeps < FEW_CREEPS:
        return True
    return holds[0] <= covered <= holds[1] and rests[0] <= bounded <= rests[1]


def again(seed: int, how: str) -> str:
    """The one command that runs it again."""
    return f"python -m tests.campaign --seed {seed}{'' if how == 'short' else f' --{how}'}"


def _until_found(first: int, shows: int, how: str) -> int:
    for seed in range(first, first + shows):
        _, findings, _, _ = judge_seed((seed, how))
        if findings:
            print(f"seed {seed}: {findings[0]}")
            return 1
    return 0


def _one(seed: int, how: str) -> int:
    show = run_as(seed, how)
    for fault in show.scenario.faults:
        print(f"fault: {fault!r}")
    for event in show.booth.room.log:
        print(f"truth: plan {event.at_s:9.3f} {event.what} {event.subject} {event.text}")
    for line in show.lines:
        if isinstance(line, AlarmLine):
            print(encode(line).decode())
    oracle = Oracle(show)
    findings = list(findings_of(show, oracle))
    print(f"digest {show.digest()}, show zero at plan {oracle.zero_plan_s}")
    for text in findings:
        print(f"finding: {text}")
    return 1 if findings else 0


if __name__ == "__main__":
    sys.exit(main())
