"""What a show file may not be: each refusal names its line, its key, what was found and what was expected."""

from __future__ import annotations

import pytest
from showfile_texts import VALID, changed, line_of, mistakes


def test_the_text_that_the_refusals_start_from_is_right() -> None:
    assert mistakes(VALID) == []


# (what stands there, what is put there instead, key, words of the sentence)
CHANGES = [
    (
        'crosses = ["doorway"]',
        f"crosses = {['stair'] * 101}",
        "link.crosses",
        "found 101 of them, expected at most 100",
    ),
    # show
    ('title = "Lantern Weather"', "title = 4", "show.title", "found 4, expected text in quotes"),
    ('title = "Lantern Weather"', 'title = "\\u202e"', "show.title", "expected something that can be read"),
    ('film = "35mm-4p"', 'film = "35mm"', "show.film", 'did you mean "35mm-'),
    ("fps = 24", "fps = 11.9", "show.fps", "found 11.9, expected a speed from 12 to 60"),
    ("fps = 24", "fps = 61", "show.fps", "found 61"),
    ("fps = 24", "fps = nan", "show.fps", "found nan"),
    ("fps = 24", "fps = true", "show.fps", "found true"),
    ("fps = 24", 'fps = "24 ft"', "show.fps", 'found "24 ft"'),
    ("fps = 24", "fps = 24 fps", "show.fps", "no TOML: the value ends early; is it in quotes?"),
    ("fps = 24", "fps = 0xFFFFFFFFFFFFFFFFFFFFFFFFF", "show.fps", "found a huge number"),
    ("2026-12-05T19:25:00", '"2026-12-05T19:25:00"', "show.motor_start", "without quotes"),
    ("2026-12-05T19:25:00", "2026-12-05", "show.motor_start", "found 2026-12-05, expected a date and time"),
    ("2026-12-05T19:25:00", "19:25:00", "show.motor_start", "found 19:25:00"),
    ("2026-12-05T19:25:00", "2026-02-30T19:25:00", "show.motor_start", "no TOML"),
    ("2026-12-05T19:25:00", "0001-01-01T00:00:00", "show.motor_start", "expected a year from 1990"),
    ("2026-12-05T19:25:00", "9999-12-31T23:59:59", "show.motor_start", "expected a year from 1990"),
    ("2026-12-05T19:25:00", "2026-03-29T00:30:00", "show.motor_start", "does not exist in Atlantic/Azores"),
    ("2026-12-05T19:25:00", "2026-03-29T00:30:00-01:00", "show.motor_start", "is at +00:00 then"),
    (
        "2026-12-05T19:25:00",
        "2026-10-25T00:30:00",
        "show.motor_start",
        "twice in Atlantic/Azores; add its offset, +00:00 or -01:00",
    ),
    ("2026-12-05T19:25:00", "2026-12-05T19:25:00Z", "show.motor_start", "Atlantic/Azores is at -01:00 then"),
    ('"Atlantic/Azores"', '"Atlantic/Azors"', "show.timezone", 'did you mean "Atlantic/Azores"?'),
    ('"Atlantic/Azores"', '"../../etc/passwd"', "show.timezone", "expected an IANA time zone"),
    ('"Atlantic/Azores"', '"Atlantic"', "show.timezone", "expected an IANA time zone"),
    ('["4", "3", "B-1"]', '["4", "3", "B-1", "4"]', "show.chain", 'found "4" a second time'),
    ('["4", "3", "B-1"]', '["4", "3", "B-1", "7"]', "show.chain", "there is no [[house]] with that id"),
    ('["4", "3", "B-1"]', '["feed", "4", "3", "B-1"]', "show.chain", "expected houses only"),
    ('["4", "3", "B-1"]', '["4", 3, "B-1"]', "show.chain", "found 3, expected text in quotes"),
    ('["4", "3", "B-1"]', '["4"]', "show.chain", "found 1 houses, expected 2 to 64"),
    ('["4", "3", "B-1"]', "[]", "show.chain", "found 0 houses"),
    ('["4", "3", "B-1"]', '"4 3 B-1"', "show.chain", "expected a list"),
    ('"18+00"', "288", "show.first_picture", "found 288 without a unit, expected a length of film"),
    ('"18+00"', '"18+16"', "show.first_picture", "foot 18 of 35mm-4p has 16 frames"),
    ('"18+00"', '"-1 ft"', "show.first_picture", "not negative"),
    ('"18+00"', '"12 s"', "show.first_picture", "expected a length of film"),
    ('"18+00"', '"9999999999 ft"', "show.first_picture", "more film than any print has"),
    # part
    ('kind = "trailer"', 'kind = "trailers"', "part.kind", 'did you mean "trailer"?'),
    ('length = "212+08"', "length = 212", "part.length", "without a unit"),
    ('length = "212+08"', 'length = "212+16"', "part.length", "foot 212"),
    ('length = "212+08"', 'length = "0 ft"', "part.length", "comes to 0 frames"),
    ('length = "212+08"', 'length = "0.01 ft"', "part.length", "comes to 0 frames"),
    ('length = "212+08"', 'length = "-5 ft"', "part.length", "not negative"),
    ('length = "212+08"', 'length = "212+08"\nframes = 12', "part.frames", "second length beside length"),
    ('length = "212+08"', 'length = "212+08"\nruntime = "x"', "part.runtime", "second length beside length"),
    ('runtime = "0:18:52"', 'runtime = "18:52"', "part.runtime", "hours or minutes?"),
    ('runtime = "0:18:52"', 'runtime = "0:18:60"', "part.runtime", "a minute 60 seconds"),
    ('runtime = "0:18:52"', "runtime = 1132", "part.runtime", "found 1132 without a unit, expected a time"),
    ('runtime = "0:18:52"', 'runtime = "0.001 s"', "part.runtime", "comes to 0 frames"),
    ('runtime = "0:18:52"', 'runtime = "400 h"', "part.runtime", "at most 100 hours"),
    ("frames = 2400", "frames = 0", "part.frames", "found 0"),
    ("frames = 2400", "frames = 2400.5", "part.frames", "expected a whole number"),
    # cue
    ('at = "reel 1"', 'at = "reel 2"', "cue.at", 'no part is so named; did you mean "reel 1"?'),
    ("at = 100", "at = -1", "cue.at", "expected a frame of the print, from 0 to 32967"),
    ("at = 100", "at = 32968", "cue.at", "found 32968"),
    ("at = 100", "at = 1.5", "cue.at", "a part's name or a frame number"),
    ('do = "masking wide"', 'do = ""', "cue.do", "expected something that can be read"),
    # house
    ('id = "3"', 'id = "4"', "house.id", "which the house on line 31 has already"),
    ('id = "3"', 'id = "feed"', "house.id", "a platter's name"),
    ('id = "3"', 'id = "house three"', "house.id", "1 to 8 of letters, digits, - and _"),
    ('id = "3"', "id = 3", "house.id", "found 3, expected text in quotes"),
    ('id = "3"', 'id = "9"', "house.id", 'found "9", which is not in chain'),
    ("lit = true", 'lit = "yes"', "house.lit", 'found "yes", expected true or false'),
    ('motor = "synchronous"', 'motor = "syncronous"', "house.motor", 'did you mean "synchronous"?'),
    ('speed_tolerance = "0.00 %"', "speed_tolerance = 0.05", "house.speed_tolerance", "expected a share"),
    ('speed_tolerance = "0.00 %"', 'speed_tolerance = "101 %"', "house.speed_tolerance", "from 0 % to 100 %"),
    (
        'start_delay = "0.5 s"',
        "start_delay = 0.5",
        "house.start_delay",
        "found 0.5 without a unit, expected a time",
    ),
    ('start_delay = "0.5 s"', 'start_delay = "0,5 s"', "house.start_delay", "a point, not a comma"),
    ('start_delay = "0.5 s"', 'start_delay = "-0.5 s"', "house.start_delay", "expected nothing negative"),
    ('ramp = "1.2 s"', 'ramp = "1.2 ft"', "house.ramp", "expected a time with its unit"),
    ('lamp_lead = "40 s"', 'lamp_lead = "40 sec"', "house.lamp_lead", "expected a time with its unit"),
    ('film_sensor = "-3 ft"', "film_sensor = -3", "house.film_sensor", "found -3 without a unit"),
    ('film_sensor = "-3 ft"', 'film_sensor = "-2 s"', "house.film_sensor", "expected a length of film"),
    ('film_sensor = "-3 ft"', 'film_sensor = "-3+16"', "house.film_sensor", "foot 3 of 35mm-4p"),
    ('booth = "north"', 'boothe = "north"', "house.boothe", 'unknown key; did you mean "booth"?'),
    # link
    ('path = "74 ft"', 'path = "-74 ft"', "link.path", "more than none"),
    ('path = "74 ft"', 'path = "0 ft"', "link.path", "more than none"),
    (
        'path = "74 ft"',
        "path = 74",
        "link.path",
        "found 74 without a unit, expected a length by tape measure",
    ),
    ('path = "74 ft"', 'path = "74+00"', "link.path", "which a footage counter counts"),
    ('path = "74 ft"', 'path = "900 km"', "link.path", "expected a length by tape measure"),
    ('path = "74 ft"', 'path = "900000 m"', "link.path", "at most 100 kilometres"),
    ('path_tolerance = "0.5 %"', "path_tolerance = 1", "link.path_tolerance", "expected a share"),
    ("rollers = 9", "rollers = -1", "link.rollers", "expected how many rollers"),
    ("rollers = 9", 'rollers = [90, "wide"]', "link.rollers", "expected an angle"),
    ("rollers = 9", "rollers = [361]", "link.rollers", "expected an angle"),
    ("rollers = 9\n", "", "link.rollers", "is missing"),
    ('wrap = "180 deg"', "wrap = 180", "link.wrap", "expected an angle with its unit"),
    ('wrap = "180 deg"', 'wrap = "400 deg"', "link.wrap", "from 0 deg to 360 deg"),
    ('tight = "1.9 s"', "tight = 2.0", "link.tight", "found 2.0 without a unit, expected a drift"),
    ('tight = "1.9 s"', 'tight = "0 fr"', "link.tight", "more than none"),
    ('tight = "1.9 s"', 'tight = "0+00"', "link.tight", "more than none"),
    ('tight = "1.9 s"', 'tight = "-3+00"', "link.tight", "more than none"),
    ('tight = "1.9 s"\n', "", "link.tight", "is missing; expected drift until"),
    ('spill = "3+00"\n', "", "link.spill", "is missing; expected drift until"),
    ('spill = "3+00"', 'spill = "3+16"', "link.spill", "foot 3 of 35mm-4p"),
    ('rise = "10 ft"', 'rise = "-1 ft"', "link.rise", "nothing negative"),
    ('crosses = ["doorway"]', 'crosses = "doorway"', "link.crosses", "expected a list"),
    (
        'tables = ["41 ft", "20 ft"]',
        'tables = ["74 ft", "20 ft"]',
        "link.tables",
        "beyond the end of the path",
    ),
    ('tables = ["41 ft", "20 ft"]', "tables = [41]", "link.tables", "found 41 without a unit"),
    ('from = "3"\nto = "B-1"', 'from = "B-1"\nto = "3"', "link.to", 'but the film runs "3" to "B-1"'),
    ('from = "3"\nto = "B-1"', 'from = "4"\nto = "B-1"', "link.to", "no neighbours"),
    ('from = "3"\nto = "B-1"', 'from = "4"\nto = "3"', "link.to", "a second time; it is on line 54 already"),
    ('from = "3"\nto = "B-1"', 'from = "3"\nto = "B-2"', "link.to", 'no house "B-2" is in chain'),
    ('from = "feed"\nto = "4"', 'from = "feed"\nto = "3"', "link.to", 'from "feed" to "4"'),
    ('path = "31 ft"', 'path = "31 ft"\ntight = "2 s"', "link.tight", "not for a platter's link"),
    ('path = "31 ft"', 'path = "31 ft"\nwired = true', "link.wired", "not for a platter's link"),
    # adapter
    ('0 = "4.run"', '0 = "7.run"', "adapter.levels.0", 'the show has no house "7"'),
    ('0 = "4.run"', '0 = "4.runs"', "adapter.levels.0", 'did you mean "run"?'),
    ('0 = "4.run"', '0 = "4.frames"', "adapter.levels.0", "not among what a contact tells of a house"),
    ('0 = "4.run"', '0 = "run"', "adapter.levels.0", "expected a signal"),
    ('0 = "4.run"', "0 = 4", "adapter.levels.0", "expected text in quotes"),
    ('0 = "4.run"', 'a = "4.run"', "adapter.levels.a", "expected the number of an input"),
    ('0 = "4.run"', '007 = "4.run"', "adapter.levels.007", "expected the number of an input"),
    ('3 = "4>3.tight"', '3 = "3>4.tight"', "adapter.levels.3", 'the film runs "4>3"'),
    ('3 = "4>3.tight"', '3 = "4>B-1.tight"', "adapter.levels.3", 'no link "4>B-1"'),
    ('3 = "4>3.tight"', '3 = "4>3.arm"', "adapter.levels.3", "not among what a contact tells of a link"),
    ('3 = "4>3.tight"', '3 = "feed>4.tight"', "adapter.levels.3", 'no link "feed>4"'),
    ('4 = "feed.run"', '4 = "feed.lamp"', "adapter.levels.4", "feed.run, all that a platter tells"),
    (
        'signal = "4.frames"',
        'signal = "4.run"',
        "adapter.counters.0.signal",
        "not among what a counter tells",
    ),
    ('signal = "4.frames"', 'signal = "!4.frames"', "adapter.counters.0.signal", "cannot be inverted"),
    (
        "frames_per_pulse = 2",
        "frames_per_pulse = 0",
        "adapter.counters.0.frames_per_pulse",
        "found 0, expected more than 0",
    ),
    ("frames_per_pulse = 2", "frames_per_pulse = -1", "adapter.counters.0.frames_per_pulse", "found -1"),
    ("frames_per_pulse = 2", "frames_per_pulse = inf", "adapter.counters.0.frames_per_pulse", "found inf"),
    (
        "frames_per_pulse = 2",
        "frames_per_puls = 2",
        "adapter.counters.0.frames_per_puls",
        'did you mean "frames_per_pulse"?',
    ),
    (
        '0 = { signal = "4.frames", frames_per_pulse = 2 }',
        '0 = "4.frames"',
        "adapter.counters.0",
        "expected a table of keys",
    ),
    (
        '0 = { signal = "4.frames", frames_per_pulse = 2 }',
        '10 = { signal = "4.frames" }',
        "adapter.counters.10",
        "room for counters 0 to 9",
    ),
    (
        '0 = { signal = "4.frames", frames_per_pulse = 2 }',
        'x = { signal = "4.frames" }',
        "adapter.counters.x",
        "expected the number of an input",
    ),
    ("spill_at = 3800", "spill_at = 310", "adapter.analogs.0.spill_at", "as for tight_at"),
    ("spill_at = 3800", 'spill_at = "3800"', "adapter.analogs.0.spill_at", "expected a number"),
    (", spill_at = 3800", "", "adapter.analogs.0.spill_at", "is missing"),
    ('signal = "3>B-1.arm"', 'signal = "3.arm"', "adapter.analogs.0.signal", "no signal of an analog input"),
    (
        'port = "/dev/ttyACM0"',
        'port = "/dev/tty\\u001b[31m"',
        "adapter.port",
        "characters that cannot be shown",
    ),
    ("[adapter.levels]", "[adapter.levls]", "adapter.levls", "unknown key"),
    # alarms
    ('slack_low = "40 %"', 'slack_low = "0 %"', "alarms.slack_low", "found none"),
    ('slack_critical = "70 %"', 'slack_critical = "100 %"', "alarms.slack_critical", "less than 100 %"),
    ('forecast = "5 min"', 'forecast = "0 min"', "alarms.forecast", "more than none"),
    ('forecast = "5 min"', "forecast = 5", "alarms.forecast", "found 5 without a unit"),
    ("[alarms]", "[alarm]", "alarm", 'unknown key; did you mean "alarms"?'),
]


@pytest.mark.parametrize(
    ("old", "new", "key", "words"), CHANGES, ids=[f"{c[2]}: {c[1]}"[:60] for c in CHANGES]
)
def test_a_mistake_is_named_by_line_and_key(old: str, new: str, key: str, words: str) -> None:
    text = changed(old, new)
    found = mistakes(text)
    hits = [line for line, at, sentence in found if at == key and words in sentence]
    assert hits, found
    assert hits[0] == expected_line(text, line_of(old), new.count("\n") + 1, key, words), found


def expected_line(text: str, first: int, count: int, key: str, words: str) -> int:
    """The line of ``text`` with the key, among those changed; of a missing key the line of its table."""
    rows = text.split("\n")
    if "is missing" in words and not rows[first - 1].startswith("0 ="):
        return max(n for n in range(1, first + 1) if rows[n - 1].startswith("["))
    leaf = key.rpartition(".")[2]
    named = [n for n in range(first, first + count) if rows[n - 1].startswith(leaf)]
    return named[0] if named else first


def test_a_signal_that_two_inputs_claim_is_refused_at_the_second() -> None:
    text = changed('0 = "4.run"', '0 = "4.lamp"')
    first = line_of('0 = "4.run"')
    assert mistakes(text) == [
        (first + 1, "adapter.levels.1", f'found "4.lamp", which the input on line {first} reports already')
    ]


def test_a_signal_that_two_adapters_claim_is_refused_also_if_one_inverts_it() -> None:
    text = VALID + '[[adapter]]\nname = "south"\ndriver = "serial"\n[adapter.levels]\n0 = "4.dowser"\n'
    line = line_of('"!4.dowser"')
    ((at, key, words),) = mistakes(text)
    assert (at, key) == (text.count("\n"), "adapter.levels.0")
    assert f"line {line} reports" in words


def test_two_adapters_of_one_name_are_refused_at_the_second() -> None:
    text = VALID + '[[adapter]]\nname = "north"\ndriver = "serial"\n'
    ((at, key, words),) = mistakes(text)
    assert (at, key) == (text.count("\n") - 1, "adapter.name")
    assert f"line {line_of('name = ' + chr(34) + 'north')} has already" in words


def test_limits_of_alarms_in_the_wrong_order_are_refused_at_the_later() -> None:
    ((at, key, words),) = mistakes(changed('slack_low = "40 %"', 'slack_low = "70 %"'))
    assert (at, key) == (line_of("slack_critical"), "alarms.slack_critical")
    assert "expected slack_low to be less" in words


def test_more_print_than_there_can_be_is_refused_at_its_last_part() -> None:
    ((at, key, words),) = mistakes(changed("frames = 2400", "frames = 900000000"))
    assert (at, key) == (line_of('name = "tail leader"'), "part.name")
    assert "more than any print has" in words


def test_a_print_with_no_picture_is_refused() -> None:
    text = changed('kind = "trailer"', 'kind = "black"')
    text = changed('kind = "feature"', 'kind = "intermission"', text)
    assert [(m[0], m[1]) for m in mistakes(text)] == [(line_of('kind = "trailer"'), "part.kind")]


def test_a_part_without_a_length_is_refused_at_its_table() -> None:
    text = changed('length = "212+08"\n', "")
    assert mistakes(text) == [
        (line_of("[[part]]"), "part", "has no length; expected one of length, runtime, frames")
    ]


def test_a_missing_link_is_refused_where_the_chain_asks_for_it() -> None:
    start, end = VALID.index('[[link]]\nfrom = "3"'), VALID.index('[[link]]\nfrom = "feed"')
    text = changed(
        '0 = { signal = "3>B-1.arm", tight_at = 310, spill_at = 3800 }\n', "", VALID[:start] + VALID[end:]
    )
    assert mistakes(text) == [
        (7, "show.chain", 'found no [[link]] "3" to "B-1", expected one for each pair of neighbours')
    ]


def test_a_chain_may_stand_on_several_lines_and_each_house_has_its_own() -> None:
    text = changed('["4", "3", "B-1"]', '[\n  "4",\n  "3",  # a comment, "x"\n  "B-1",\n  "9",\n]')
    hits = [m for m in mistakes(text) if "no [[house]]" in m[2]]
    assert [(m[0], m[1]) for m in hits] == [(11, "show.chain")]


def test_more_than_64_houses_are_refused() -> None:
    names = [str(n) for n in range(65)]
    text = changed('["4", "3", "B-1"]', "[" + ", ".join(f'"{n}"' for n in names) + "]")
    assert (7, "show.chain", "found 65 houses, expected 2 to 64") in mistakes(text)


@pytest.mark.parametrize("key", ["title", "film", "fps", "motor_start", "chain", "first_picture"])
def test_what_a_show_cannot_do_without_is_asked_for(key: str) -> None:
    text = "\n".join(row for row in VALID.split("\n") if not row.startswith(f"{key} ="))
    hits = [m for m in mistakes(text) if m[1] == f"show.{key}"]
    assert [m[0] for m in hits] == [1]
    assert hits[0][2].startswith("is missing; expected ")


@pytest.mark.parametrize(
    ("table", "keys"),
    [
        ("part", ["name", "kind"]),
        ("cue", ["at", "do"]),
        ("house", ["id"]),
        ("link", ["from", "to", "path"]),
        ("adapter", ["name", "driver"]),
    ],
)
def test_an_empty_table_is_asked_for_every_key_that_it_needs(table: str, keys: list[str]) -> None:
    text = f"[[{table}]]\n" + VALID
    found = [(m[0], m[1]) for m in mistakes(text) if m[2].startswith("is missing")]
    assert {(1, f"{table}.{key}") for key in keys} <= set(found)


@pytest.mark.parametrize("table", ["show", "part", "house", "link"])
def test_a_section_that_is_not_there_is_asked_for(table: str) -> None:
    text = VALID.replace(f"[[{table}]]", f"[[x{table}]]").replace(f"[{table}]", f"[x{table}]")
    assert any(m[1] == table and m[2].startswith("is missing; expected") for m in mistakes(text))


@pytest.mark.parametrize("table", ["part", "cue", "house", "link", "adapter"])
def test_one_bracket_where_two_are_needed_is_told_so(table: str) -> None:
    text = VALID[: VALID.index("[[part]]")] + f"[{table}]\n"
    hits = [m for m in mistakes(text) if m[1] == table and "expected [[" in m[2]]
    assert [m[0] for m in hits] == [10]


@pytest.mark.parametrize("key", ["place", "model_config", "__class__", "_unread", "copy", "__dict__"])
def test_a_drivers_key_may_be_called_anything(key: str) -> None:
    assert mistakes(changed("baud = 115200", f"{key} = 1")) == []
    hits = mistakes(changed("fps = 24", f"fps = 24\n{key} = 1"))
    assert [(m[0], m[1]) for m in hits] == [(5, f"show.{key}")]
