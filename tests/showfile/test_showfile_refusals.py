"""What a show file may not be: each refusal names its line, its key, what was found and what was expected."""

from __future__ import annotations

import pytest
from showfile_mistakes import CHANGES
from showfile_texts import VALID, changed, line_of, mistakes


def test_the_text_that_the_refusals_start_from_is_right() -> None:
    assert mistakes(VALID) == []


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
