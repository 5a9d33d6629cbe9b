"""A show file with everything in it, and a way to say where a changed one is wrong."""

from __future__ import annotations

from interlock.errors import ShowFileError
from interlock.showfile.load import Options, parse_show

VALID = """\
[show]
title = "Lantern Weather"
film = "35mm-4p"
fps = 24
motor_start = 2026-12-05T19:25:00
timezone = "Atlantic/Azores"
chain = ["4", "3", "B-1"]
first_picture = "18+00"

[[part]]
name = "Trailer"
kind = "trailer"
length = "212+08"
[[part]]
name = "reel 1"
kind = "feature"
runtime = "0:18:52"
[[part]]
name = "tail leader"
kind = "tail"
frames = 2400

[[cue]]
at = "reel 1"
do = "masking wide"
[[cue]]
at = 100
do = "house lights out"

[[house]]
id = "4"
name = "House 4"
booth = "north"
lit = true
motor = "synchronous"
supply = "mains"
speed_tolerance = "0.00 %"
start_delay = "0.5 s"
start_scatter = "0.2 s"
ramp = "1.2 s"
ramp_scatter = "0.05 s"
coast = "0.4 s"
lamp_lead = "40 s"
dowser_lead = "2 s"
shut_dowser_limit = "5 min"
film_sensor = "-3 ft"
threads_from = false
[[house]]
id = "3"
[[house]]
id = "B-1"
motor = "crystal"

[[link]]
from = "4"
to = "3"
path = "74 ft"
path_tolerance = "0.5 %"
rollers = 9
wrap = "180 deg"
tight = "1.9 s"
spill = "3+00"
rise = "10 ft"
crosses = ["doorway"]
tables = ["41 ft", "20 ft"]
wired = true
[[link]]
from = "3"
to = "B-1"
path = "19 m"
rollers = [90, "45 deg", 22.5]
tight = "48 fr"
spill = "1 m"
[[link]]
from = "feed"
to = "4"
path = "31 ft"
[[link]]
from = "B-1"
to = "take-up"
path = "33 ft"

[[adapter]]
name = "north"
driver = "serial"
port = "/dev/ttyACM0"
baud = 115200
[adapter.levels]
0 = "4.run"
1 = "4.lamp"
2 = "!4.dowser"
3 = "4>3.tight"
4 = "feed.run"
[adapter.counters]
0 = { signal = "4.frames", frames_per_pulse = 2 }
[adapter.analogs]
0 = { signal = "3>B-1.arm", tight_at = 310, spill_at = 3800 }

[alarms]
slack_low = "40 %"
slack_critical = "70 %"
forecast = "5 min"
"""


def changed(old: str, new: str, text: str = VALID) -> str:
    """``text`` with its only ``old`` made ``new``."""
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the text"
    return text.replace(old, new)


def line_of(needle: str, text: str = VALID) -> int:
    """The line of ``text`` on which its first ``needle`` stands."""
    return text[: text.index(needle)].count("\n") + 1


def mistakes(text: str, *, options: Options | None = None) -> list[tuple[int, str, str]]:
    """(line, key, sentence) of every mistake in ``text``; none if it is read."""
    try:
        parse_show(text, "evening.toml", options=options)
    except ShowFileError as e:
        refused = e
    else:
        return []
    assert refused.mistakes, "refused without a reason"
    return [(m.line, m.key, m.text) for m in refused.mistakes]
