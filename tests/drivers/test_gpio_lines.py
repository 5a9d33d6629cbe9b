"""What is asked of the kernel: chip and lines by name, pull, debounce, the clock of the stamps, a large buffer."""

from __future__ import annotations

import errno
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import gpiod
import pytest
from gpiod.line import Bias, Clock, Direction, Edge

from drivers import gpio_lines
from drivers.gpio_options import GpioOptions


class FakeChip:
    """``gpiod.Chip`` on a computer that has none."""

    made: list[str]
    config: dict[Any, gpiod.LineSettings]
    given: dict[str, Any]

    def __init__(self, path: str) -> None:
        if path.endswith("7"):
            raise PermissionError(errno.EACCES, "may not")
        type(self).made.append(path)

    def __enter__(self) -> FakeChip:
        return self

    def __exit__(self, *_: object) -> None: ...

    def get_info(self) -> Any:
        return SimpleNamespace(label="gate-room")

    def request_lines(self, config: Any, **given: Any) -> str:
        type(self).config, type(self).given = config, given
        return "request"


@pytest.fixture
def chip(monkeypatch: pytest.MonkeyPatch) -> type[FakeChip]:
    FakeChip.made = []
    monkeypatch.setattr(gpiod, "Chip", FakeChip)
    return FakeChip


def test_pull_debounce_clock_and_a_large_buffer_are_asked_for(chip: type[FakeChip], tmp_path: Path) -> None:
    device = tmp_path / "gpiochip0"
    device.touch()
    options = GpioOptions.model_validate(
        {
            "chip": str(device),
            "level_lines": {"1": "GATE4", "0": 17},
            "counter_lines": {"0": 5},
            "debounce_us": 3000,
        }
    )
    assert gpio_lines.request(options) == "request"  # type: ignore[comparison-overlap]
    assert chip.made == [str(device)]
    assert list(chip.config) == [17, "GATE4", 5], "levels first, each in the order of their input numbers"
    level, counter = chip.config[17], chip.config[5]
    assert (level.direction, level.edge_detection, counter.edge_detection) == (
        Direction.INPUT,
        Edge.BOTH,
        Edge.RISING,
    )
    assert (level.bias, level.active_low, level.event_clock) == (Bias.PULL_UP, True, Clock.MONOTONIC)
    assert (level.debounce_period, counter.debounce_period) == (timedelta(milliseconds=3), timedelta(0))
    assert chip.given == {"consumer": "longlace", "event_buffer_size": 1024}


@pytest.mark.parametrize(
    ("pull", "closed_is", "bias", "active_low"),
    [
        ("down", "high", Bias.PULL_DOWN, False),
        ("none", "low", Bias.DISABLED, True),
        ("as-is", "high", Bias.AS_IS, False),
    ],
)
def test_other_wirings(pull: Any, closed_is: Any, bias: Bias, active_low: bool) -> None:
    settings = gpio_lines.settings(GpioOptions(pull=pull, closed_is=closed_is), counter=False)
    assert (settings.bias, settings.active_low) == (bias, active_low)


def test_a_chip_is_found_by_its_path_or_label_and_otherwise_those_that_there_are_are_named(
    chip: type[FakeChip], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "gpiochip3").touch()
    real = Path
    monkeypatch.setattr(gpio_lines, "Path", lambda p: real(tmp_path) if p == "/dev" else real(p))
    assert gpio_lines.path_of("gpiochip3") == str(tmp_path / "gpiochip3")
    assert gpio_lines.path_of("gate-room") == str(tmp_path / "gpiochip3")
    with pytest.raises(FileNotFoundError, match=r"no GPIO chip 'nowhere'; there are: .*gpiochip3"):
        gpio_lines.path_of("nowhere")
