"""Bugs planted in what is judged of lamps, dowsers, film, platters, early machines and adapters: part of ``mutants.py``'s list."""

from __future__ import annotations

# ruff: noqa: E501 - a planted line stands beside the one that it replaces
LIGHT_MUTANTS: tuple[tuple[str, str, str, str], ...] = (
    ("a lamp that goes out is never told of", "judge_light.py", 'judge(w, "lamp-out", h.id, condition=True,', 'judge(w, "lamp-out", h.id, condition=None,'),
    ("a lamp that goes out is dated by the dowser", "judge_light.py", "condition=True, crossed_s=h.lamp.since_s)", "condition=True, crossed_s=h.dowser.since_s)"),
    ("a strike is missed twelve seconds late", "judge_light.py", "LAMP_DARK_S = 10.0", "LAMP_DARK_S = 12.0"),
    ("a strike is missed a whole lead too soon", "judge_light.py", "first_fr - h.spec.lamp_lead_s", "first_fr - 2.0 * h.spec.lamp_lead_s"),
    ("no lamp with picture near is not urgent", "judge_light.py", 'condition=True, priority="high")', "condition=True)"),
    ("every dowser bears ten minutes", "judge_light.py", "since_s + h.spec.shut_dowser_limit_s", "since_s + 600.0"),
    ("a lamp is left on only while its machine runs", "judge_light.py", "look.reached(h.over_s + LAMP_LEFT_ON_S)", "look.reached(look.when(w.show.last_picture_fr) + LAMP_LEFT_ON_S)"),
    ("a lamp is left on after half a minute", "judge_light.py", "LAMP_LEFT_ON_S = 300.0", "LAMP_LEFT_ON_S = 30.0"),
    ("heat is not looked for after a stop", "judge_light.py", "elif lamp and dowser and look.turning is False:", 'elif lamp and dowser and look.turning is False and w.phase != "stopped":'),
    ("heat is not over when film runs again", "judge_light.py", "look.turning is True or look.film is False:", "look.film is False:"),
    ("the survey's margin has the wrong sign", "judge_light.py", "certain_s = here.when(span[0] + here.margin_fr)", "certain_s = here.when(span[0] - here.margin_fr)"),
    ("a dowser may be shut for three seconds", "judge_light.py", "DOWSER_SHUT_S = 1.0", "DOWSER_SHUT_S = 3.0"),
    ("a dowser is early by a second already", "judge_light.py", "DOWSER_EARLY_S = 10.0", "DOWSER_EARLY_S = 1.0"),
    ("an early dowser is never told of", "judge_light.py", 'judge(w, "dowser-open-early", h.id, early)', 'judge(w, "dowser-open-early", h.id, None)'),
    ("film is out at its very end", "judge_house.py", "out = not film and frame[0] + 3.0 * math.sqrt", "out = not film and frame[0] - 30.0 * math.sqrt"),
    ("film that is out is dated by the last film", "judge_house.py", '"film-out", h.id, out, crossed_s=h.film.since_s)', '"film-out", h.id, out, crossed_s=w.started_s)'),
    ("film that is out is never told of", "judge_house.py", 'judge(w, "film-out", h.id, out,', 'judge(w, "film-out", h.id, None,'),
    ("the platters are exchanged", "judge_house.py", '(("feed", h.index == 0), ("take-up", h.index == len(w.houses) - 1))', '(("take-up", h.index == 0), ("feed", h.index == len(w.houses) - 1))'),
    ("a platter may stand for twenty seconds", "judge_house.py", "DECK_GRACE_S = 2.0", "DECK_GRACE_S = 20.0"),
    ("a machine is early that starts before its time", "judge_house.py", "RUN_EARLY_S = 5.0", "RUN_EARLY_S = 0.0"),
    ("a clock set back makes a start early", "judge_house.py", "    if m.start_s == h.start_seen_s and not h.start_early:\n        return False\n", "    h.start_seen_s, h.start_early = m.start_s, True\n"),
    ("an early machine is never told of", "judge_house.py", 'judge(w, "run-early", h.id, early', 'judge(w, "run-early", h.id, False'),
    ("a machine that was early stays so", "judge_house.py", "if early or (run is not None and look.alarmed):", "if early:"),
    ("heat that is over stands on", "judge_light.py", '_clear(w, h, look, "gate-heat")', "pass"),
    ("a lamp that burns again stays out", "judge_light.py", '_clear(w, h, here, "lamp-dark", "lamp-out")', "pass"),
    ("film that is there again stays out", "judge_house.py", 'if out or look.alarmed:\n        judge(w, "film-out"', 'if out:\n        judge(w, "film-out"'),
    ("an adapter is lost half a second late", "presence.py", "LOST_S = 2.0", "LOST_S = 2.5"),
    ("an adapter is never stale", "presence.py", 'judge(w, "adapter-stale", a.name, condition=True', 'judge(w, "adapter-stale", a.name, condition=None'),
    ("an adapter that is lost stays lost", "presence.py", 'judge(w, "adapter-lost", a.name, condition=False)', 'judge(w, "adapter-lost", a.name, condition=None)'),
    ("a shut dowser waits until all run", "catalogue.py", '"lamp-left-on", "dowser-shut",', '"lamp-left-on",'),
)  # fmt: skip
