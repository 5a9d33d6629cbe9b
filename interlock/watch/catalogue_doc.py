"""The alarm catalogue as a page for people: ``python -m interlock.watch.catalogue_doc > docs/alarms.md``."""

from __future__ import annotations

import sys

from interlock.watch.catalogue import CATALOGUE, LIVE, AlarmKind

HEAD = """# The alarms

Printed from `interlock/watch/catalogue.py` by `python -m interlock.watch.catalogue_doc`; a test holds the two together.
An alarm asks a person to act; everything else is only recorded. Words are those of ISA-18.2 / IEC 62682. The program
watches and advises: it is no safety device and replaces no hard-wired stop. Responses are shown as they would read for house 4,
link 4>3, the feed platter and adapter north.

| code | on | means | likely cause | if nothing is done | do | within | priority |
| --- | --- | --- | --- | --- | --- | --- | --- |
"""


_EXAMPLES = {"link": "4>3", "house": "4", "platter": "feed", "adapter": "north", "desk": "desk"}
"""What stands in a response where the alarm's own subject will."""


def page() -> str:
    """The whole page, Markdown."""
    rows = "".join(_row(kind) for kind in CATALOGUE.values())
    phases = "".join(
        f"| {phase} | {', '.join(f'`{code}`' for code in CATALOGUE if code in live)} |\n"
        for phase, live in LIVE.items()
    )
    return f"{HEAD}{rows}\n## What can trip when\n\n| phase | alarms |\n| --- | --- |\n{phases}"


def _row(kind: AlarmKind) -> str:
    response = kind.response.format_map(
        {"subject": _EXAMPLES[kind.subject], "toward": "its loop grows towards spill", "cause": ""}
    ).strip()
    if kind.stopped:
        response += f" *Once all stand:* {kind.stopped.format(subject=_EXAMPLES[kind.subject])}"
    notes: list[str] = [kind.priority]
    if kind.latching:
        notes.append("latching")
    if kind.replaces is not None:
        notes.append(f"replaces `{kind.replaces}`")
    within = f"{kind.respond_s:g} s" if kind.respond_s < 120.0 else f"{kind.respond_s / 60.0:g} min"
    cells = (
        f"`{kind.code}`",
        kind.subject,
        kind.means,
        kind.cause,
        kind.consequence,
        response,
        within,
        ", ".join(notes),
    )
    return f"| {' | '.join(cells)} |\n"


if __name__ == "__main__":
    sys.stdout.write(page())
