"""Shows as the tests of odds and routes need them: invented, small, everything settable."""

from __future__ import annotations

from collections.abc import Sequence

from interlock.showfile.show import House, Link, Motor, Part, Show


def a_show(
    n: int,
    *,
    fps: float = 24.0,
    run_s: float = 6000.0,
    path_fr: float = 1200.0,
    tight_s: float = 2.0,
    spill_s: float = 2.0,
    motors: Sequence[Motor] | None = None,
    tolerance: float = 0.0,
    supplies: Sequence[str] | None = None,
    start_scatter_s: float = 0.25,
    ramp_scatter_s: float = 0.1,
    coast_s: float = 0.3,
    wired: Sequence[int] = (),
) -> Show:
    """``n`` houses called 1…n in film order; the print is ``run_s`` seconds long, leader aside."""
    houses = tuple(
        House(
            id=str(k + 1),
            name=f"House {k + 1}",
            motor=motors[k] if motors else "synchronous",
            supply=supplies[k] if supplies else "mains",
            speed_tolerance=tolerance,
            start_scatter_s=start_scatter_s,
            ramp_scatter_s=ramp_scatter_s,
            coast_s=coast_s,
        )
        for k in range(n)
    )
    links = tuple(
        Link(
            upstream=str(k + 1),
            downstream=str(k + 2),
            path_fr=path_fr,
            tight_fr=tight_s * fps,
            spill_fr=spill_s * fps,
            wired=k in wired,
        )
        for k in range(n - 1)
    )
    return Show(
        title="The Salt Ladder",
        film_key="35mm-4p",
        fps=fps,
        motor_start_wall_s=1_796_498_700.0,
        timezone="Atlantic/Azores",
        first_picture_fr=0.0,
        parts=(Part("feature", "feature", round(run_s * fps), 0),),
        houses=houses,
        links=links,
    )
