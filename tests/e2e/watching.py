"""A show file for a machine room, and `longlace watch --plain` as a person would run it, with what it said."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from emulator import SIGNALS, Adapter
from room import House, Link

Line = dict[str, Any]


def show_text(
    title: str, motor_start_wall_s: float, plan: dict[str, Any], links: list[Link], adapters: list[Adapter]
) -> str:
    """The show file. ``plan``: ``path_ft``, ``first_picture``, ``picture_fr``, ``tail_fr``, as surveyed and measured."""
    houses = [links[0].upstream, *(link.downstream for link in links)]
    start = datetime.fromtimestamp(motor_start_wall_s, UTC).isoformat(timespec="milliseconds")
    chain = ", ".join(f'"{h.id}"' for h in houses)
    text = [
        "[show]",
        f'title = "{title}"\nfilm = "35mm-4p"\nfps = 24\nmotor_start = {start}\ntimezone = "Etc/UTC"',
        f'chain = [{chain}]\nfirst_picture = "{plan["first_picture"]}"',
        f'[[part]]\nname = "The Tide Clerk"\nkind = "feature"\nframes = {plan["picture_fr"]}',
        f'[[part]]\nname = "tail leader"\nkind = "tail"\nframes = {plan["tail_fr"]}',
    ]
    for house in houses:
        text.append(f'[[house]]\nid = "{house.id}"\nramp = "{house.ramp_s} s"\ncoast = "{house.coast_s} s"')
        text.append(f'lamp_lead = "{plan["lamp_lead_s"]} s"\ndowser_lead = "1 s"')
    for link in links:
        text.append(f'[[link]]\nfrom = "{link.upstream.id}"\nto = "{link.downstream.id}"\nrollers = 4')
        text.append(
            f'path = "{plan["path_ft"]} ft"\ntight = "{link.tight_fr:g} fr"\nspill = "{link.spill_fr:g} fr"'
        )
    for adapter in adapters:
        text.append(f'[[adapter]]\nname = "{adapter.name}"\ndriver = "serial"\nport = "{adapter.port}"')
        text.append("[adapter.levels]")
        for place, (house, kind) in enumerate((h, k) for h in adapter.houses for k in SIGNALS):
            name = f"{house.id}.{kind}"
            text.append(f'{place} = "{"!" * (name in adapter.inverted)}{name}"')
        text.append("[adapter.counters]")
        text.extend(f'{n} = {{ signal = "{h.id}.frames" }}' for n, h in enumerate(adapter.houses))
    return "\n".join(text) + "\n"


class Watch:
    """One `longlace watch SHOW --plain`, in folders of its own; what it says goes to a file, so that nobody waits for us."""

    def __init__(self, folder: Path, show: str) -> None:
        self.show = folder / "show.toml"
        self.show.write_text(show)
        self.record = folder / "show.llrec"
        self._out = folder / "out.jsonl"
        self._err = folder / "err.txt"
        self.env = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "LONGLACE"))}
        for name in ("RUNTIME_DIR", "DATA_HOME", "STATE_HOME", "CACHE_HOME", "CONFIG_HOME"):
            place = folder / name.lower()
            place.mkdir(mode=0o700)
            self.env[f"XDG_{name}"] = str(place)
        with self._out.open("wb") as out, self._err.open("wb") as err:
            self._process = subprocess.Popen(
                [
                    sys.executable,
                    "-m",
                    "interlock.cli",
                    "watch",
                    self.show,
                    "--plain",
                    "--journal",
                    self.record,
                ],
                stdin=subprocess.PIPE,
                stdout=out,
                stderr=err,
                env=self.env,
                cwd=folder,
            )

    def end(self) -> int:
        """Ctrl-C; the exit code."""
        self._process.send_signal(signal.SIGINT)
        try:
            code = self._process.wait(10)
        finally:
            self._process.kill()
            self._process.wait()
            if self._process.stdin:
                self._process.stdin.close()
        return code

    def errors(self) -> str:
        """What it wrote to standard error."""
        return self._err.read_text()

    def lines(self) -> list[Line]:
        """Every line that it has said."""
        return [json.loads(line) for line in self._out.read_text().splitlines()]

    def command(self, *args: str) -> subprocess.CompletedProcess[str]:
        """Another command of the program in the same folders."""
        return subprocess.run(
            [sys.executable, "-m", "interlock.cli", *args],
            env=self.env,
            capture_output=True,
            text=True,
            check=False,
        )


def wall_to_monotonic(at: str) -> float:
    """A line's ``at`` on the monotonic clock, as the two stand now."""
    return datetime.fromisoformat(at).timestamp() - time.time() + time.monotonic()


def house_of(houses: list[House], house_id: str) -> House:
    """The house of that number."""
    return next(h for h in houses if h.id == house_id)
