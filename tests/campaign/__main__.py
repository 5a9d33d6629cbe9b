"""Run the campaign: ``python -m tests.campaign --shows 10000 [--first 0] [--full]``, or one show again: ``--seed N``."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor

from rich.progress import track

from interlock.watch.state import AlarmLine, encode
from tests.campaign.again import findings_again
from tests.campaign.drive import run
from tests.campaign.oracle import Oracle

AGAIN_EVERY = 5
"""Every fifth show is folded again from its record's form, with ticks thrown in."""


def judge_seed(job: tuple[int, bool]) -> tuple[int, list[str]]:
    """The findings of one show."""
    seed, full = job
    try:
        show = run(seed, full=full)
        return seed, [*Oracle(show).findings(), *(findings_again(show) if seed % AGAIN_EVERY == 0 else ())]
    # A show that stops the desk is a finding like any other, to be printed with its seed.
    except Exception as fault:  # noqa: BLE001
        return seed, [f"the desk or the oracle failed: {type(fault).__name__}: {fault}"]


def campaign(jobs: list[tuple[int, bool]]) -> Iterable[tuple[int, list[str]]]:
    """All of them, in all processors, in order."""
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        results = pool.map(judge_seed, jobs, chunksize=8)
        yield from track(results, description="shows", total=len(jobs), disable=not sys.stderr.isatty())


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaign")
    parser.add_argument("--shows", type=int, default=300)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--full", action="store_true", help="full-length shows")
    parser.add_argument("--seed", type=int, help="this one alone, with everything that was said")
    parser.add_argument(
        "--until-found", action="store_true", help="in this process alone, to the first finding"
    )
    args = parser.parse_args()
    if args.seed is not None:
        return _one(args.seed, full=args.full)
    if args.until_found:
        return _until_found(args.first, args.shows)
    failed = 0
    for seed, findings in campaign([(args.first + n, args.full) for n in range(args.shows)]):
        failed += bool(findings)
        for text in findings:
            print(
                f"seed {seed}: {text}\n    again: python -m tests.campaign --seed {seed}{' --full' * args.full}"
            )
    print(f"{args.shows} shows, {failed} with findings")
    return 1 if failed else 0


def _until_found(first: int, shows: int) -> int:
    for seed in range(first, first + shows):
        _, findings = judge_seed((seed, False))
        if findings:
            print(f"seed {seed}: {findings[0]}")
            return 1
    return 0


def _one(seed: int, *, full: bool) -> int:
    show = run(seed, full=full)
    for fault in show.scenario.faults:
        print(f"fault: {fault!r}")
    for event in show.booth.room.log:
        print(f"truth: plan {event.at_s:9.3f} {event.what} {event.subject} {event.text}")
    for line in show.lines:
        if isinstance(line, AlarmLine):
            print(encode(line).decode())
    oracle = Oracle(show)
    findings = list(oracle.findings())
    print(f"digest {show.digest()}, show zero at plan {oracle.zero_plan_s}")
    for text in findings:
        print(f"finding: {text}")
    return 1 if findings else 0


if __name__ == "__main__":
    sys.exit(main())
