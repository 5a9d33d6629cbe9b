"""The same command once more, as after a lost terminal, is one more screen; another one is told so."""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.errors import UsageError
from interlock.service import on_screen
from interlock.service.config import Config
from interlock.service.place import Lock, Place

SHOW = str(Path(__file__).parents[2] / "configs" / "two-house.toml")


@pytest.fixture
def shown(folder: Path, monkeypatch: pytest.MonkeyPatch) -> list[Place]:
    """The places on which a screen was opened."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    monkeypatch.chdir(folder)
    found: list[Place] = []
    monkeypatch.setattr(on_screen, "has_terminal", lambda: True)
    monkeypatch.setattr(on_screen, "show_screen", lambda place: found.append(place) or 0)
    return found


def running(config: Config) -> Lock:
    lock = Lock(Place(config.show, rehearsal=config.rehearsal))
    lock.given = config.given()
    lock.take("The show")
    return lock


@pytest.mark.parametrize(
    "config",
    [
        Config(SHOW),
        Config(SHOW, journal="tonight.record"),
        Config(SHOW, rehearsal=True, scenario="wet.toml", seed=7, journal="tonight.record"),
    ],
)
def test_the_same_command_again_opens_a_screen_on_the_desk_that_runs(
    shown: list[Place], config: Config
) -> None:
    lock = running(config)
    try:
        assert on_screen.start_and_show(config) == 0
        assert (
            on_screen.start_and_show(Config(SHOW, rehearsal=config.rehearsal)) == 0
        )  # asks for nothing else
    finally:
        lock.release()
    assert len(shown) == 2


@pytest.mark.parametrize(
    ("other", "named"),
    [
        (Config(SHOW, rehearsal=True, seed=8), "--seed"),
        (Config(SHOW, rehearsal=True, seed=7, scenario="dry.toml"), "--scenario"),
        (Config(SHOW, rehearsal=True, seed=7, journal="other.record"), "--journal"),
    ],
)
def test_a_command_with_another_option_is_told_which(shown: list[Place], other: Config, named: str) -> None:
    lock = running(Config(SHOW, rehearsal=True, seed=7))
    try:
        with pytest.raises(UsageError, match=f"runs already, started without this {named}: "):
            on_screen.start_and_show(other)
    finally:
        lock.release()
    assert shown == []
