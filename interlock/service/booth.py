"""What the simulator is told of the booth, filled from the show: drivers themselves know no show file."""

from __future__ import annotations

from drivers.simulator.machines import LoopSpec, MachineSpec, SimSpec
from interlock.plan.timeline import picture_spans
from interlock.showfile.show import Show


def sim_spec(show: Show) -> SimSpec:
    """The show's machines, loops, film and adapters; every adapter is simulated, whatever drives it in the booth."""
    return SimSpec(
        fps=show.fps,
        first_picture_fr=show.first_picture_fr,
        length_fr=show.length_fr,
        machines=tuple(
            MachineSpec(
                house=h.id,
                motor=h.motor,
                supply=h.supply,
                speed_tolerance=h.speed_tolerance,
                start_delay_s=h.start_delay_s,
                start_scatter_s=h.start_scatter_s,
                ramp_s=h.ramp_s,
                ramp_scatter_s=h.ramp_scatter_s,
                coast_s=h.coast_s,
                lamp_lead_s=h.lamp_lead_s,
                dowser_lead_s=h.dowser_lead_s,
                film_sensor_fr=h.film_sensor_fr,
                lit=h.lit,
            )
            for h in show.houses
        ),
        loops=tuple(
            LoopSpec(
                upstream=k.upstream,
                downstream=k.downstream,
                path_fr=k.path_fr,
                path_tolerance=k.path_tolerance,
                tight_fr=k.tight_fr,
                spill_fr=k.spill_fr,
                wired=k.wired,
            )
            for k in show.links
        ),
        picture_spans=tuple((float(a), float(b)) for a, b in picture_spans(show)),
        feed_fr=show.feed.path_fr if show.feed is not None else None,
        take_up_fr=show.take_up.path_fr if show.take_up is not None else None,
        adapters=show.adapters,
    )
