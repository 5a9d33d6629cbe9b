"""Shows of any number of houses and any length, and the readings that their adapters say: counters at 10 Hz, contacts, no arms.

Four houses an adapter, as a booth has them. All of it is invented.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from drivers.simulator.booth import Booth
from interlock.service.booth import sim_spec
from interlock.service.shows import read_show
from interlock.showfile.show import Show
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor, Input

LEAD_S = 40.0
"""Plan time begins so long before motor_start, as in a rehearsal."""
AN_ADAPTER = 4
SEED = 8


def show_text(houses: int, feature_s: int) -> str:
    """The show file."""
    ids = [str(k + 1) for k in range(houses)]
    parts = [
        "[show]", 'title = "Bench"', 'film = "35mm-4p"', "fps = 24", "motor_start = 2026-12-05T20:00:00",
        'timezone = "UTC"', f"chain = [{', '.join(map(repr, ids))}]", 'first_picture = "12 ft"',
    ]  # fmt: skip
    parts += ["[[part]]", 'name = "feature"', 'kind = "feature"', f'runtime = "{_hms(feature_s)}"']
    parts += ["[[part]]", 'name = "tail"', 'kind = "tail"', 'length = "200 ft"']
    for house in ids:
        parts += ["[[house]]", f'id = "{house}"', 'start_scatter = "0.1 s"']
    for a, b in pairwise(ids):
        parts += ["[[link]]", f'from = "{a}"', f'to = "{b}"', 'path = "100 ft"', "rollers = 9"]
        parts += ['tight = "2.0 s"', 'spill = "2.0 s"']
    for n in range(0, houses, AN_ADAPTER):
        mine = ids[n : n + AN_ADAPTER]
        parts += [
            "[[adapter]]",
            f'name = "a{n // AN_ADAPTER + 1}"',
            'driver = "simulator"',
            "[adapter.levels]",
        ]
        contacts = [f"{h}.{what}" for h in mine for what in ("run", "lamp", "dowser", "film")]
        parts += [f'{k} = "{signal}"' for k, signal in enumerate(contacts)]
        parts += ["[adapter.counters]", *(f'{k} = {{ signal = "{h}.frames" }}' for k, h in enumerate(mine))]
    return "\n".join(parts).replace("'", '"') + "\n"


def write_show(folder: Path, houses: int, feature_s: int = 7200) -> Path:
    """The show file in ``folder``."""
    path = folder / f"{houses}-houses-{feature_s}.toml"
    path.write_text(show_text(houses, feature_s), encoding="utf-8")
    return path


def make_show(folder: Path, houses: int, feature_s: int = 7200) -> Show:
    """The show, as the program reads it."""
    return read_show(write_show(folder, houses, feature_s))


def readings(show: Show, to_s: float) -> list[Input]:
    """What the desk hears up to plan time ``to_s``; desk seconds are plan time + ``LEAD_S``."""
    booth = Booth(sim_spec(show), SEED, base_s=LEAD_S, begin_s=-LEAD_S)
    return list(booth.advance(to_s))


def new_desk(show: Show) -> Desk:
    """A desk at the beginning of those readings."""
    return Desk(show, Anchor(0.0, show.motor_start_wall_s - LEAD_S), rehearsal=True)


def _hms(seconds: int) -> str:
    return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
