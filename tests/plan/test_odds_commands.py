"""``longlace odds`` and ``longlace route`` as a person types them, on the shows that come with the program."""

from __future__ import annotations

import json
from importlib.resources import as_file, files
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from interlock.commands import odds, route
from interlock.errors import FileMistakes, ShowFileError, UsageError

app = typer.Typer(rich_markup_mode=None)
app.command("odds")(odds.command)
app.command("route")(route.command)


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(app, [str(w) for w in words])


@pytest.fixture
def six() -> Path:
    with as_file(files("configs").joinpath("six-house.toml")) as path:
        return path


@pytest.fixture
def distances() -> Path:
    with as_file(files("configs").joinpath("six-house-distances.csv")) as path:
        return path


def test_odds_json_is_one_document_and_the_same_seed_gives_the_same_one(six: Path) -> None:
    once = run("odds", six, "--shows", "20000", "--seed", "5", "--json")
    again = run("odds", six, "--shows", "20000", "--seed", "5", "--json")
    assert once.exit_code == 0
    assert once.stdout == again.stdout
    document = json.loads(once.stdout)
    assert (document["method"], document["shows"], document["seed"]) == ("simulated", 20000, 5)
    assert [link["link"] for link in document["links"]] == ["4>3", "3>2", "2>1", "1>6", "6>5"]
    assert document["weakest"] in {link["link"] for link in document["links"]}


def test_odds_for_people_name_the_show_and_show_no_bar_where_there_is_no_terminal(six: Path) -> None:
    result = run("odds", six, "--shows", "1000")
    assert result.exit_code == 0
    assert result.stdout.startswith("Lantern Weather: the odds")
    assert result.stderr == ""


@pytest.mark.parametrize("words", [("--shows", "0"), ("--shows", "many"), ("--seed", "-1")])
def test_odds_refuse_numbers_that_make_no_sense(six: Path, words: tuple[str, str]) -> None:
    result = run("odds", six, *words)
    assert result.exit_code == 2
    assert result.stdout == ""


def test_a_show_file_that_is_not_there_is_the_loaders_mistake() -> None:
    assert isinstance(run("odds", "nowhere.toml").exception, ShowFileError)
    assert isinstance(run("route", "nowhere.toml").exception, ShowFileError)


def test_route_finds_an_order_in_the_example(six: Path, distances: Path) -> None:
    result = run("route", six, "--distances", distances, "--json")
    assert result.exit_code == 0
    document = json.loads(result.stdout)
    assert document["best"]["film_fr"] <= document["own"]["film_fr"]
    assert sorted(document["best"]["order"]) == ["1", "2", "3", "4", "5", "6"]
    fixed = json.loads(
        run("route", six, "--distances", distances, "--first", "2", "--last", "6", "--json").stdout
    )
    assert (fixed["best"]["order"][0], fixed["best"]["order"][-1]) == ("2", "6")
    assert fixed["best"]["film_fr"] >= document["best"]["film_fr"]


def test_route_takes_the_show_files_own_distances(six: Path, tmp_path: Path) -> None:
    show = tmp_path / "show.toml"
    show.write_text(
        six.read_text("utf-8") + '\n[[distance]]\nfrom = "4"\nto = "2"\npath = "5 ft"\n'
        '[[distance]]\nfrom = "3"\nto = "1"\npath = "6 ft"\n',
        "utf-8",
    )
    document = json.loads(run("route", show, "--first", "4", "--json").stdout)
    assert document["best"]["order"][:4] == ["4", "2", "3", "1"]


def test_route_with_nothing_to_choose_from_says_what_to_measure(six: Path) -> None:
    error = run("route", six).exception
    assert isinstance(error, UsageError)
    assert "[[distance]]" in str(error)


def test_route_ends_with_1_where_no_order_joins_all_houses(six: Path, distances: Path) -> None:
    result = run(
        "route",
        six,
        "--distances",
        distances,
        "--forbid",
        "6>5",
        "--forbid",
        "1>5",
        "--forbid",
        "2>5",
        "--first",
        "4",
        "--json",
    )
    assert result.exit_code == 1
    assert json.loads(result.stdout)["best"] is None


def test_route_names_the_lines_of_a_table_with_mistakes(six: Path, tmp_path: Path) -> None:
    table = tmp_path / "booth.csv"
    table.write_text("from,to,ft\n4,3,tall\n", "utf-8")
    error = run("route", six, "--distances", table).exception
    assert isinstance(error, FileMistakes)
    assert str(error) == f"{table}:2: ft: 'tall' is no length in ft, expected a number above 0, or x"
