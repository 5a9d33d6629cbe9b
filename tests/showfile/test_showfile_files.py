"""Files that are no show files, mistakes all at once, drivers' own keys, and what the schema says."""

from __future__ import annotations

import json
import os
import tomllib
from pathlib import Path

import jsonschema
import pytest
from pydantic import BaseModel, ConfigDict
from showfile_texts import VALID, changed, line_of, mistakes

from interlock.errors import ShowFileError
from interlock.showfile.load import MOST_BYTES, load_show, parse_show
from interlock.showfile.models import json_schema

ROOT = Path(__file__).parents[2]


def refusal(path: Path) -> str:
    with pytest.raises(ShowFileError) as caught:
        load_show(path)
    assert caught.value.exit_code == 2
    return str(caught.value)


def test_every_mistake_is_reported_in_one_go_in_the_order_of_the_lines() -> None:
    text = changed("fps = 24", "fps = 240")
    text = changed('title = "Lantern Weather"', 'titel = "Lantern Weather"', text)
    text = changed('kind = "trailer"', 'kind = "trailr"', text)
    text = changed('ramp = "1.2 s"', "ramp = 1.2", text)
    text = changed('motor = "crystal"', 'motor = "steam"', text)
    text = changed('path = "74 ft"', 'path = "-74 ft"', text)
    text = changed('1 = "4.lamp"', '1 = "9.lamp"', text)
    text = changed('forecast = "5 min"', "forecast = 5", text)
    assert [(line, key) for line, key, _ in mistakes(text)] == [
        (1, "show.title"),
        (2, "show.titel"),
        (4, "show.fps"),
        (line_of('kind = "trailr"', text), "part.kind"),
        (line_of("ramp = 1.2", text), "house.ramp"),
        (line_of('"steam"', text), "house.motor"),
        (line_of('"-74 ft"', text), "link.path"),
        (line_of('"9.lamp"', text), "adapter.levels.1"),
        (line_of("forecast = 5", text), "alarms.forecast"),
    ]


def test_a_mistake_is_printed_as_file_line_key_and_what_is_wrong() -> None:
    with pytest.raises(ShowFileError) as caught:
        parse_show(changed("fps = 24", 'fps = "24"'), "evening.toml")
    assert str(caught.value) == (
        'evening.toml:4: show.fps: found "24" without a unit, '
        'expected a speed from 12 to 60 frames a second, as in 24 or "24 fps"'
    )


def test_one_unreadable_entry_brings_no_mistakes_that_only_follow_from_it() -> None:
    text = changed('id = "3"', "id = 3")
    assert [(line, key) for line, key, _ in mistakes(text)] == [(line_of("id = 3", text), "house.id")]
    text = changed('from = "3"', "from = 3")
    assert [(line, key) for line, key, _ in mistakes(text)] == [(line_of("from = 3", text), "link.from")]
    text = changed('film = "35mm-4p"', 'film = "8mm"')
    assert [(line, key) for line, key, _ in mistakes(text)] == [(3, "show.film")]
    text = changed("frames = 2400", 'frames = "2400"')
    assert [key for _, key, _ in mistakes(text)] == ["part.frames"]


def test_a_line_that_is_no_toml_hides_no_other_mistake() -> None:
    text = changed('ramp = "1.2 s"', "ramp = 1.2 s")
    text = changed("fps = 24", "fps = 240", text)
    text = changed('title = "Lantern Weather"', 'title = "Lantern Weather', text)
    text = changed('path = "31 ft"', 'path = "31 ft"\npath = "32 ft"', text)
    found = mistakes(text)
    assert [(line, key) for line, key, _ in found] == [
        (2, "show.title"),
        (4, "show.fps"),
        (line_of("ramp = 1.2 s", text), "house.ramp"),
        (line_of('path = "32 ft"', text), "path"),
    ]
    assert "a second time" in found[3][2]


def test_where_the_rest_cannot_be_told_apart_only_the_line_is_named() -> None:
    text = changed('[[link]]\nfrom = "feed"', '[[link]\nfrom = "feed"')
    assert [(line, key) for line, key, _ in mistakes(text)] == [(line_of("[[link]\n", text), "file")]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", ":0: file: is empty, expected a show file"),
        (b"\n \n# nothing here\n", ":0: file: is empty"),
        (VALID.encode("utf-16"), ":1: file: found byte 0xFF, expected text in UTF-8"),
        (
            VALID.replace("Lantern", "Grün").encode("latin-1"),
            ":2: file: found byte 0xFC, expected text in UTF-8",
        ),
        (b"\x00" * 100, ":1: file: no TOML"),
        (b"#" * (MOST_BYTES + 1), f":0: file: is larger than {MOST_BYTES:,} bytes"),
        (b"a = " + b"[" * 100_000, ":0: file: lists or tables stand too deep"),
        (b"a = " + b"{a = " * 60 + b"1" + b"}" * 60, ":0: file: lists or tables stand too deep"),
        (b"\na" + b".a" * 400_000 + b" = 1", ":2: file: found more than 1000 dots in one line"),
        (b"[[house]]\n" * 5001, ":5001: house: found 5001 of [[house]], expected at most 5000"),
        (b"fps = " + b"9" * 100_000, ":1: fps: no TOML: a number of thousands of digits"),
        (b"%PDF-1.7\n%\n", ":1: file: no TOML"),
    ],
    ids=[
        "empty",
        "only comments",
        "utf-16",
        "latin-1",
        "zeros",
        "huge",
        "deep",
        "deep tables",
        "dots",
        "many",
        "a long number",
        "a document",
    ],
)
def test_what_is_no_show_file_is_refused_with_the_reason(tmp_path: Path, content: bytes, words: str) -> None:
    file = tmp_path / "evening.toml"
    file.write_bytes(content)
    assert words in refusal(file)


def test_a_file_that_is_not_there_or_is_a_folder_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path / "none.toml").endswith("none.toml:0: file: there is no such file")
    assert refusal(tmp_path).endswith(":0: file: is a folder, expected a show file")
    assert "cannot be read" in refusal(tmp_path / "a\0b")
    (tmp_path / "file").touch()
    assert "cannot be read: Not a directory" in refusal(tmp_path / "file" / "x.toml")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "evening.toml"
    file.write_text(VALID)
    file.chmod(0)
    assert "cannot be read: Permission denied" in refusal(file)


def test_a_device_without_end_is_refused() -> None:
    assert "is larger than" in refusal(Path("/dev/zero"))


def test_a_file_name_reaches_the_terminal_cleaned(tmp_path: Path) -> None:
    file = tmp_path / "eve\x1b[31mning.toml"
    file.write_text("")
    assert refusal(file).endswith("evening.toml:0: file: is empty, expected a show file")


class SerialOptions(BaseModel):
    model_config = ConfigDict(extra="forbid")
    port: str
    baud: int = 115200


def test_with_the_drivers_options_their_keys_are_checked_by_line() -> None:
    options = {"serial": SerialOptions, "simulator": SerialOptions}
    assert mistakes(VALID, options=options) == []

    hits = mistakes(changed('driver = "serial"', 'driver = "serail"'), options=options)
    assert hits == [
        (
            line_of('driver = "serial"'),
            "adapter.driver",
            'found "serail", expected one of serial, simulator; did you mean "serial"?',
        )
    ]
    hits = mistakes(changed("baud = 115200", 'baud = "fast"'), options=options)
    assert [(m[0], m[1]) for m in hits] == [(line_of("baud"), "adapter.baud")]
    hits = mistakes(changed("baud = 115200", "bald = 115200"), options=options)
    assert hits == [(line_of("baud"), "adapter.bald", 'unknown key; did you mean "baud"?')]
    hits = mistakes(changed("[adapter.levels]", "[adapter.levls]"), options=options)
    assert hits == [(line_of("[adapter.levels]"), "adapter.levls", 'unknown key; did you mean "levels"?')]
    hits = mistakes(changed('port = "/dev/ttyACM0"\n', ""), options=options)
    assert [(m[0], m[1], m[2]) for m in hits] == [(line_of("[[adapter]]"), "adapter.port", "is missing")]


def test_without_the_drivers_options_their_keys_are_kept_as_they_are() -> None:
    text = changed("baud = 115200", "anything = [1, { x = 2 }]")
    (adapter,) = parse_show(changed('"serial"', '"steam"', text), "x").adapters
    assert adapter.driver == "steam"
    assert adapter.options == {"port": "/dev/ttyACM0", "anything": [1, {"x": 2}]}


def test_the_committed_schema_is_the_code() -> None:
    """Written by ``python -m interlock.showfile.schema docs/show-file.schema.json``."""
    committed = json.loads((ROOT / "docs" / "show-file.schema.json").read_text(encoding="utf-8"))
    assert committed == json.loads(json.dumps(json_schema()))


def test_the_schema_takes_what_the_loader_takes_and_refuses_what_is_plainly_wrong() -> None:
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)

    def wrong(text: str) -> list[str]:
        document = json.loads(json.dumps(tomllib.loads(text), default=str))
        return [
            ".".join(str(part) for part in error.absolute_path) for error in validator.iter_errors(document)
        ]

    assert wrong(VALID) == []
    assert wrong(changed('ramp = "1.2 s"', "ramp = 1.2")) == ["house.0.ramp"]
    assert wrong(changed('path = "74 ft"', 'path = "74"')) == ["link.0.path"]
    assert wrong(changed('title = "Lantern Weather"\n', "")) == ["show"]
    assert wrong(changed("fps = 24", "fps = 11")) == ["show.fps"]
    for config in sorted((ROOT / "configs").glob("*.toml")):
        assert wrong(config.read_text(encoding="utf-8")) == [], config.name
