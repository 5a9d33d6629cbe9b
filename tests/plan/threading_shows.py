"""Shows as the tests of threading, times and sheets need them: invented, by show file, everything settable."""

from __future__ import annotations

from interlock.showfile.load import parse_show
from interlock.showfile.show import Show


def a_text(
    houses: int = 3,
    *,
    title: str = "Nine Umbrellas",
    link_ft: float = 80,
    rollers: int = 8,
    link_keys: dict[str, str] | None = None,
    house_keys: dict[str, str] | None = None,
    all_links: str = "",
    all_houses: str = "",
    tail: str = "150 ft",
    motor_start: str = "2026-12-05T19:25:00",
    timezone: str = "Atlantic/Azores",
    more: str = "",
) -> str:
    """A show file of ``houses`` houses 1…n, feed and take-up included. ``…_keys``: further lines by id."""
    ids = [str(k + 1) for k in range(houses)]
    ways = list(zip(["feed", *ids], [*ids, "take-up"], strict=True))
    lines = [
        f'[show]\ntitle = "{title}"\nfilm = "35mm-4p"\nfps = 24\nmotor_start = {motor_start}',
        f'timezone = "{timezone}"\nchain = {ids}\nfirst_picture = "60+00"'.replace("'", '"'),
        '[[part]]\nname = "trailer"\nkind = "trailer"\nlength = "90+00"',
        '[[part]]\nname = "reel 1"\nkind = "feature"\nruntime = "1:30:00"',
        f'[[part]]\nname = "tail"\nkind = "tail"\nlength = "{tail}"',
    ]
    lines += [f'[[house]]\nid = "{i}"\n{all_houses}\n{(house_keys or {}).get(i, "")}' for i in ids]
    for a, b in ways:
        platter = a == "feed" or b == "take-up"
        limits = "" if platter else 'tight = "2.0 s"\nspill = "2.0 s"'
        own = (link_keys or {}).get(f"{a}>{b}", "")
        size = "" if "path" in own else f'path = "{30 if platter else link_ft} ft"\n'
        count = "" if "rollers =" in own else f"rollers = {5 if platter else rollers}\n"
        lines.append(f'[[link]]\nfrom = "{a}"\nto = "{b}"\n{size}{count}{limits}\n{all_links}\n{own}')
    return "\n".join([*lines, more])


def a_show(houses: int = 3, **kwargs: object) -> Show:
    """The show of that text."""
    return parse_show(a_text(houses, **kwargs), "show.toml")  # type: ignore[arg-type]
