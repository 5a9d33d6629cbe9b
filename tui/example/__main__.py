"""``python -m tui.example [HOUSES] [MOMENT]``: look at the screens by hand, without a desk."""

from __future__ import annotations

import sys

import msgspec

from interlock.clock import SystemClock
from interlock.watch.state import State
from tui.app import LonglaceApp
from tui.example.moments import MOMENTS
from tui.example.show import layout
from tui.example.source import Running


def main() -> None:
    """Run the invented show; with a moment, its alarms stand all the while."""
    houses = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    moment = sys.argv[2] if len(sys.argv) > 2 else ""
    lay = layout(houses, rehearsal=True)

    def twist(state: State) -> State:
        if not moment:
            return state
        wrong = MOMENTS[moment](lay)
        return msgspec.structs.replace(wrong, beat=state.beat, seq=state.seq)

    faults = tuple((f"house {h.house} trips", {"house": h.house, "trip": True}) for h in lay.houses)
    source = Running(lay, SystemClock(), -8.0, 4.0, twist)
    LonglaceApp(source, by="A. Blyth", booth="north", faults=faults).run()


if __name__ == "__main__":
    main()
