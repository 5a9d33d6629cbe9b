"""Bugs planted in what is judged of speed, of the time to a limit, of sight and of floods: part of ``mutants.py``'s list."""

from __future__ import annotations

# ruff: noqa: E501 - a planted line stands beside the one that it replaces
SPEED_MUTANTS: tuple[tuple[str, str, str, str], ...] = (
    ("a change of a rate is never found", "creep.py", "(self._high if innovation > 0.0 else self._low) >= H", "self._high > 1e9"),
    ("a loop that tightens is foretold to spill", "creep.py", "spills = self.rate_fps >= 0.0", "spills = self.rate_fps < 0.0"),
    ("a forecast takes the other limit", "creep.py", "limit = loop.link.spill_fr if spills else loop.link.tight_fr", "limit = loop.link.tight_fr if spills else loop.link.spill_fr"),
    ("a rate learns twice what it should", "creep.py", "self.rate_fps += k_r * innovation", "self.rate_fps += 2.0 * k_r * innovation"),
    ("the downstream pulse is taken as it was heard", "creep.py", "_by_pulse(t_s, down)", "_by_pulse(down.counter.last_pulse_s, down)"),
    ("the gap to a limit is reckoned from the other side", "forecast.py", "gap = limit - x\n    if rate <= 0.0 or", "gap = limit + x\n    if rate <= 0.0 or"),
    ("early and late are exchanged", "forecast.py", "return (early, gap / rate, late)", "return (late, gap / rate, early)"),
    ("what wanders is sure of its drift by a tenth", "forecast.py", "sd = math.sqrt(var + diffused)", "sd = 10.0 * math.sqrt(var + diffused)"),
    ("of two machines each is compared with itself", "judge_speed.py", "middle = speeds[beside.index]", "middle = speeds[h.index]"),
    ("a crystal is compared with its own supply", "judge_speed.py", 'return QUARTZ if h.spec.motor == "crystal" else h.spec.supply', "return h.spec.supply"),
    ("crystals are compared with the mains", "judge_speed.py", 'return QUARTZ if h.spec.motor == "crystal" else h.spec.supply', "return QUARTZ"),
    ("a slow machine is never off", "judge_speed.py", "    if abs(fps) > limit and", "    if fps > limit and"),
    ("a speed is off by noise", "judge_speed.py", "SIGMAS = 6.0", "SIGMAS = 1.0"),
    ("a speed is off after half an hour", "judge_speed.py", "SIGMAS = 6.0", "SIGMAS = 60.0"),
    ("a speed is right again when it has been told", "judge_speed.py", "limit = max(tolerance_fps, SIGMAS * sigma)", "limit = max(tolerance_fps, SIGMAS * sigma) * (1e3 if w.active('speed-off', h.id) else 1.0)"),
    ("the other machine is the cause", "judge_speed.py", "1e-9), k) for k in (i, i + 1) if k in off]", "1e-9), 2 * i + 1 - k) for k in (i, i + 1) if k in off]"),
    ("a forecast looks twice as far ahead", "judge_speed.py", "limit_s = w.show.alarms.forecast_s", "limit_s = 2.0 * w.show.alarms.forecast_s"),
    ("a forecast names the side it comes from", "judge_speed.py", '"toward": "spill" if creep.rate_fps > 0.0 else "tight", **cause', '"toward": "spill" if loop.drift(w.t_s).fr > 0.0 else "tight", **cause'),
    ("a limit that is reached is foretold", "judge_speed.py", "if span[1] <= 0.0:", "if span[1] < 0.0:"),
    ("blind waits for half a minute", "judge_speed.py", "BLIND_S = 3.0", "BLIND_S = 30.0"),
    ("blind looks at the variance", "judge_speed.py", "BLIND_SIGMAS * math.sqrt(d.var) >", "BLIND_SIGMAS * d.var >"),
    ("blind is said of a silent adapter", "judge_speed.py", "            w.blind_since[i] = None\n            return  # a silent adapter explains it, and says so itself\n", "            break\n"),
    ("blind counts what was long ago", "judge_speed.py", "    if not blind:\n        w.blind_since[i] = None\n", "    if not blind:\n"),
    ("a dead counter is taken as a machine that stands still", "counted.py", "            self.doubt_since_s = self.doubt_since_s or last_s\n", "            pass\n"),
    ("a contradiction may last six seconds more", "sensed.py", "max(self.motion.ramp_s, self.motion.coast_s) + 0.5", "max(self.motion.ramp_s, self.motion.coast_s) + 6.5"),
    ("a late pulse is a contradiction at once", "counted.py", "COUNT_GRACE_S = 0.3", "COUNT_GRACE_S = -0.3"),
    ("a machine that has come to rest may be anywhere", "counted.py", "elif m.profile.v1 == 0.0 and var >", "elif m.profile.v1 < 0.0 and var >"),
    ("a flood begins with the ninth alarm", "flood.py", "FLOOD_STARTS_ABOVE = 10", "FLOOD_STARTS_ABOVE = 8"),
    ("an alarm that comes again is no new one", "flood.py", "            self._active.pop(key, None)\n", "            pass\n"),
    # What only marks can find: these are run with --marked.
    ("a pair of marks moves the drift the wrong way", "marks.py", "self.d += g_d / s * innovation", "self.d -= g_d / s * innovation"),
    ("marks begin when a machine has yet to run up", "marks.py", "self.t_s = _at_speed_s(loop)", "self.t_s = max(up.tf_s, down.tf_s)"),
    ("a person's key is exact", "marks.py", "2.0 * (REACTION_S * up.fps) ** 2", "0.02"),
    ("the path between two gates is forgotten", "marks.py", "run_fr - loop.link.path_fr - raw_fr", "run_fr - raw_fr"),
)  # fmt: skip
