"""The show file as a page for people: ``python -m interlock.showfile.page > docs/show-file.md``."""

from __future__ import annotations

import sys
from typing import Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from interlock.showfile.distances import DistanceSection
from interlock.showfile.models import (
    AdapterSection,
    AlarmsSection,
    AnalogSection,
    CounterSection,
    CueSection,
    HouseSection,
    LinkSection,
    PartSection,
    ShowSection,
)
from interlock.showfile.section import Section
from interlock.showfile.threading import DeckSection, ThreadingSection

HEAD = """# The show file

Printed from `interlock/showfile/models.py` by `python -m interlock.showfile.page`; a test holds the two together.
For editors that know it there is the same as JSON Schema: [show-file.schema.json](show-file.schema.json).

One TOML file holds everything that is known before the motors start: the print, the houses in film order, the film between
them, and what the booth's adapters are wired to. Begin with the file that is nearest to your booth (`configs/two-house.toml`,
`six-house.toml`, `sixteen-house.toml`), change it bit by bit, and ask after each bit:

    longlace check my-show.toml

Every mistake is told at once, each with its line and what is expected there. Nothing is executed out of a show file.

## How quantities are written

In quotes and with their unit; a bare number where a unit is needed is a mistake that says which units are meant.

| what | written as |
| --- | --- |
| length of film | `"118+08"` (film feet + frames, 16 frames to the foot on 35 mm 4-perf), `"74 ft"`, `"22.6 m"`, `"48 fr"` |
| length of a path | `"74 ft"`, `"22.6 m"`: by tape measure |
| time | `"2.0 s"`, `"10 min"`, `"1:49:33"` |
| a loop's limit | film or time: `"48 fr"`, `"3+00"`, `"2.0 s"` |
| share | `"0.05 %"` |
| angle | `"90 deg"` |

**Two kinds of feet.** A length of *film* (a part, `first_picture`, `tight`, `spill`) is in film feet, as a footage counter counts
it: 16 frames each. A length of *path* (`path`, `tables`, `rise`) is by tape measure: 16.042 frames to the foot. Over 1,800 ft the
two differ by 3.2 s, more than a link's slack. A length in metres is a true length in both.

## What must be measured

- `path`: **all** film between the two gates, with the loops and the accumulator arm at threaded rest.
- `first_picture`: film from the first gate up to the first picture frame, as threaded. Every countdown hangs on it.
- `tight` and `spill`: by how much the loop may shrink, or grow, from threaded rest. Every alarm of slack hangs on them.

## An example

"""
EXAMPLE = """[show]
title         = "Lantern Weather"
film          = "35mm-4p"
fps           = 24
motor_start   = 2026-12-05T19:25:00   # local time at which every start timer fires
timezone      = "Atlantic/Azores"
chain         = ["4", "3"]            # the houses in the order in which the film runs
first_picture = "18+00"

[[part]]                              # the print from head to tail, first picture frame on
name   = "Trailer: The Salt Ladder"
kind   = "trailer"
length = "212+08"                     # or runtime = "0:02:21.7", or frames = 3400

[[part]]
name    = "Lantern Weather"
kind    = "feature"
runtime = "1:31:20"

[[part]]
name   = "tail leader"
kind   = "tail"                       # never picture
length = "150 ft"

[[cue]]                               # in every house at its own time
at = "Lantern Weather"                # a part's first frame, or a frame number of the print
do = "masking wide, house lights out"

[[house]]
id    = "4"
booth = "north"
ramp  = "1.2 s"                       # standstill to speed: fps x ramp / 2 frames are lost by it

[[house]]
id       = "3"
booth    = "north"
motor    = "crystal"
lamp_lead = "60 s"                    # strike this long before the first picture

[[link]]                              # one for each pair of neighbours in chain
from    = "4"
to      = "3"
path    = "74 ft"
rollers = 9
tight   = "2.0 s"
spill   = "2.0 s"
rise    = "9 ft"
crosses = ["doorway"]                 # shown as a hazard on the threading sheet
wired   = true                        # a hard-wired stop takes both machines

[[link]]                              # optional: the platters
from = "feed"
to   = "4"
path = "31 ft"

[[link]]
from = "3"
to   = "take-up"
path = "33 ft"

[[adapter]]
name   = "north"
driver = "serial"
port   = "/dev/ttyACM0"

[adapter.levels]                      # input number = signal
0 = "4.run"                           # motor turning
1 = "4.lamp"                          # lit
2 = "!4.dowser"                       # ! = the contact is closed when the dowser is NOT open
3 = "4.film"                          # film present
4 = "4>3.tight"                       # a limit switch of the loop
5 = "feed.run"                        # a platter

[adapter.counters]
0 = { signal = "4.frames", frames_per_pulse = 1 }

[adapter.analogs]
0 = { signal = "4>3.arm", tight_at = 310, spill_at = 3800 }   # raw values at the two limits
"""
PARTS = """Exactly one of `length`, `runtime` and `frames`. `tail` and `black` are never picture; in an `intermission` the dowser
is shut."""
LINKS = """One for each pair of neighbours in `chain`, which needs `rollers`, `tight` and `spill` too; and one from
`feed` and one to `take-up` where they are to be known."""
ADAPTERS = (
    "Further keys are its driver's own: [hardware.md](hardware.md), [several-booths.md](several-booths.md)."
)
SECTIONS: tuple[tuple[str, type[Section], str], ...] = (
    ("[show]", ShowSection, ""),
    ("[[part]]", PartSection, PARTS),
    ("[[cue]]", CueSection, "Optional."),
    ("[[house]]", HouseSection, "One for each house in `chain`."),
    ("[[link]]", LinkSection, LINKS),
    ("[[adapter]]", AdapterSection, ADAPTERS),
    ("[adapter.counters]", CounterSection, "`0 = { signal = …, … }`: input number = frame counter."),
    ("[adapter.analogs]", AnalogSection, "`0 = { signal = …, … }`: input number = accumulator arm."),
    ("[alarms]", AlarmsSection, "Optional; the alarms themselves: [alarms.md](alarms.md)."),
    ("[[distance]]", DistanceSection, "Optional, for `longlace route`: [plan-route.md](plan-route.md)."),
    ("[threading]", ThreadingSection, "Optional; where the defaults come from: [plan-threading.md](plan-threading.md)."),
    ("[deck]", DeckSection, "Optional, both platters."),
)  # fmt: skip
TAIL = """
## Signals

| signal | on | true when |
| --- | --- | --- |
| `4.run` `4.lamp` `4.dowser` `4.film` | levels | the motor turns, the lamp is lit, the dowser is open, film is present |
| `4>3.tight` `4>3.spill` | levels | this loop is at its limit |
| `feed.run` `take-up.run` | levels | the platter turns |
| `4.frames` | counters | a pulse for every frame, or every `frames_per_pulse` frames |
| `4>3.arm` | analogs | where the arm is |

What is not wired is not known, is shown as not known, and trips no alarm.
"""


def page() -> str:
    """The whole page, Markdown."""
    tables = "".join(_table(head, model, note) for head, model, note in SECTIONS)
    return f"{HEAD}```toml\n{EXAMPLE}```\n\n## Every key\n{tables}{TAIL}"


def _table(head: str, model: type[Section], note: str) -> str:
    fields = sorted(
        model.model_fields.items(), key=lambda f: f[0] not in model.__annotations__
    )  # what is inherited last
    rows = "".join(_row(f.alias or name, f) for name, f in fields)
    about = f"\n{note}\n" if note else ""
    return f"\n### `{head}`\n{about}\n| key | what | default |\n| --- | --- | --- |\n{rows}"


def _row(key: str, f: FieldInfo) -> str:
    default = f.get_default(call_default_factory=True)
    if f.is_required():
        default = "**required**"
    elif default is None or default in ([], {}):
        default = "–"
    elif isinstance(default, bool):
        default = f"`{str(default).lower()}`"
    else:
        default = f'`"{default}"`' if isinstance(default, str) else f"`{default}`"
    what = (f.description or "").replace("|", "\\|")
    choices = get_args(f.annotation) if get_origin(f.annotation) is Literal else ()
    if choices:
        what = f"{what + ': ' if what else ''}{', '.join(map(str, choices))}"
    return f"| `{key}` | {what} | {default} |\n"


if __name__ == "__main__":
    sys.stdout.write(page())
