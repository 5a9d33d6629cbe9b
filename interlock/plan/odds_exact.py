"""How likely a start holds, exactly: the chain recursion, without chance.

Machine k is worth ``e_k`` seconds of lateness, all independent; the link behind it holds while
``−tight ≤ e_(k+1) − e_k ≤ spill`` (a late downstream machine lets the loop grow). Backwards along the chain,

    f_n = 1,    f_k(x) = ∫ over x − tight … x + spill of φ_(k+1) f_(k+1),    start holds = ∫ φ_1 f_1.

Each ``φ_k f_k`` is kept as a piecewise Chebyshev polynomial whose panels are halved until the rest
is below 1e-14 of probability, so that unlike machines and unlike limits cost accuracy nowhere;
the integral over a window is then the difference of one antiderivative at two places. A machine without
scatter is a point and is carried as one. Results are good to better than 1e-10 absolute (held in the tests
against independent quadratures).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Shape: TypeAlias = Literal["normal", "uniform"]

_NODES = 20
_REACH = 8.5  # standard deviations kept of a normal: 2e-17 lies outside
_TOLERANCE = 1e-14  # probability, per panel
_DEPTH = 40
_POINT_S = 1e-7  # less scatter than a tenth of a microsecond is none
_SLACK_S = 1e-9  # two points exactly a limit apart are within it, whatever the last bit of the floats says
_KINKS = 48
_FIRST_PANELS = 8


def _tables() -> tuple[Array, Array]:
    """Chebyshev nodes on −1…1; the matrix from values there to the antiderivative's coefficients.

    Its last two rows give the function's own two highest coefficients: how much is still missing.
    """
    angles = (np.arange(_NODES) + 0.5) * np.pi / _NODES
    orders = np.arange(_NODES)[:, None]
    to_coefficients = np.cos(orders * angles) * 2.0 / _NODES
    to_coefficients[0] /= 2.0
    integrate = np.zeros((_NODES + 1, _NODES))
    integrate[1, 0] = 1.0
    for k in range(1, _NODES):
        integrate[k + 1, k] = 0.5 / (k + 1)
        if k > 1:
            integrate[k - 1, k] = -0.5 / (k - 1)
    signs = (-1.0) ** np.arange(1, _NODES + 1)
    integrate[0] = -signs @ integrate[1:]
    return np.cos(angles), np.vstack([integrate @ to_coefficients, to_coefficients[-2:]])


_POINTS, _MATRIX = _tables()


@dataclass(frozen=True, slots=True)
class Lateness:
    """One machine: mean and standard deviation of its ``e``. ``uniform``: a rectangle of that deviation."""

    mean_s: float
    sd_s: float
    shape: Shape = "normal"

    @property
    def is_point(self) -> bool:
        """No scatter to speak of."""
        return self.sd_s < _POINT_S

    @property
    def reach_s(self) -> float:
        """Everything lies within this of the mean (of a normal, all but 2e-17)."""
        return self.sd_s * (_REACH if self.shape == "normal" else math.sqrt(3.0))

    def density(self, x_s: Array) -> Array:
        """Per second, at ``x_s`` within reach."""
        if self.shape == "uniform":
            return np.full_like(x_s, 0.5 / self.reach_s)
        z = (x_s - self.mean_s) / self.sd_s
        return np.asarray(np.exp(-0.5 * z * z) / (self.sd_s * math.sqrt(2.0 * math.pi)))


@dataclass(frozen=True, slots=True)
class _Point:
    """All that is left of the chain, behind a machine without scatter at ``at_s``."""

    at_s: float
    holds: float


@dataclass(frozen=True, slots=True)
class _Smooth:
    """∫φf up to a place: ``coefficients`` (node + 1, panel) on ``edges`` (panel + 1), ``upto`` (panel + 1)
    sums."""

    edges: Array
    coefficients: Array
    upto: Array
    kinks: Array

    def __call__(self, x_s: Array) -> Array:
        x_s = np.clip(x_s, self.edges[0], self.edges[-1])
        panel = np.clip(np.searchsorted(self.edges, x_s, side="right") - 1, 0, len(self.edges) - 2)
        left, right = self.edges[panel], self.edges[panel + 1]
        t2 = 2.0 * (2.0 * x_s - left - right) / (right - left)
        later = np.zeros_like(x_s)
        now = np.zeros_like(x_s)
        for row in self.coefficients[:0:-1]:
            later, now = now, row[panel] + t2 * now - later
        return np.asarray(self.upto[panel] + self.coefficients[0][panel] + 0.5 * t2 * now - later)


_Rest: TypeAlias = _Point | _Smooth | None


def chain_holds(machines: Sequence[Lateness], tight_s: Sequence[float], spill_s: Sequence[float]) -> float:
    """The probability that every link holds. ``tight_s`` and ``spill_s``: one each for every pair of
    neighbours.

    Limits below nothing leave no room and give 0; infinite ones are no limit.
    Raises ``ValueError`` where the lengths do not fit or a number is not one.
    """
    if len(tight_s) != len(machines) - 1 or len(spill_s) != len(machines) - 1:
        raise ValueError("a chain of n machines has n − 1 links, each with two limits")
    if any(math.isnan(v) for v in (*tight_s, *spill_s)) or not all(
        math.isfinite(m.mean_s) and math.isfinite(m.sd_s) for m in machines
    ):
        raise ValueError("means and scatters must be finite numbers, limits must be numbers")
    if len(machines) == 2 and _one_normal_link(machines):
        return _link_holds(machines, tight_s[0], spill_s[0])
    rest: _Rest = None
    tight, spill = 0.0, 0.0
    for k in range(len(machines) - 1, -1, -1):
        if k < len(machines) - 1:
            # Wider than the longest night is no limit, and infinity would spoil the differences.
            tight, spill = min(tight_s[k], 1e9), min(spill_s[k], 1e9)
        step = _step(machines[k], rest, tight, spill)
        if step is None:
            return 0.0
        rest = step
    assert rest is not None
    holds = rest.holds if isinstance(rest, _Point) else float(rest.upto[-1])
    return min(1.0, max(0.0, holds))


def _one_normal_link(machines: Sequence[Lateness]) -> bool:
    return all(m.shape == "normal" for m in machines) and not all(m.is_point for m in machines)


def _link_holds(machines: Sequence[Lateness], tight: float, spill: float) -> float:
    """Two normals have a closed form: their difference is one too."""
    mean = machines[1].mean_s - machines[0].mean_s
    scale = math.sqrt(2.0) * math.hypot(machines[0].sd_s, machines[1].sd_s)
    return max(0.0, 0.5 * (math.erf((spill - mean) / scale) + math.erf((tight + mean) / scale)))


def _step(machine: Lateness, rest: _Rest, tight: float, spill: float) -> _Point | _Smooth | None:
    """One machine more in front of ``rest``; None if nothing of it can hold."""
    if tight + spill < 0.0:
        return None
    if machine.is_point:
        at = np.array([machine.mean_s])
        holds = float(_ahead(at, rest, tight, spill)[0])
        return _Point(machine.mean_s, holds) if holds > 0.0 else None
    low, high = machine.mean_s - machine.reach_s, machine.mean_s + machine.reach_s
    hard = [low, high] if machine.shape == "uniform" else []
    kinks: list[float] = []
    hints: list[float] = []
    if isinstance(rest, _Point):
        hard += [rest.at_s - spill, rest.at_s + tight]
        low, high = max(low, rest.at_s - spill), min(high, rest.at_s + tight)
    elif rest is not None:
        # Where f rises and falls again: panels that straddle a rise much steeper than they are wide could
        # miss it.
        ends = (rest.edges[0], rest.edges[len(rest.edges) // 2], rest.edges[-1])
        hints = [e - spill for e in ends] + [e + tight for e in ends]
        kinks = [*(rest.kinks - spill), *(rest.kinks + tight)]
        low, high = max(low, ends[0] - spill), min(high, ends[-1] + tight)
    if not high > low:
        return None
    breaks = np.unique(np.array([*np.linspace(low, high, _FIRST_PANELS + 1), *hard, *hints, *kinks]))
    breaks = breaks[(breaks >= low) & (breaks <= high)]
    inside = np.array([k for k in [*hard, *kinks] if low <= k <= high][:_KINKS])
    return _fit(machine, rest, tight, spill, _apart(breaks), inside)


def _ahead(x_s: Array, rest: _Rest, tight: float, spill: float) -> Array:
    """f at ``x_s``: what the rest of the chain makes of a machine at that place."""
    if rest is None:
        return np.ones_like(x_s)
    if isinstance(rest, _Point):
        apart = rest.at_s - x_s
        return np.where((apart >= -tight - _SLACK_S) & (apart <= spill + _SLACK_S), rest.holds, 0.0)
    both = rest(np.concatenate([x_s + spill, x_s - tight]))
    return np.maximum(both[: len(x_s)] - both[len(x_s) :], 0.0)


def _apart(breaks: Array) -> Array:
    """Without breaks that are nearer to each other than floats can tell apart in a panel; the two ends
    stay."""
    least = 1e-12 * max(1.0, abs(breaks[0]), abs(breaks[-1]))
    kept = np.concatenate([[True], np.diff(breaks) > least])
    kept[-1] = True
    return np.asarray(breaks[kept])


def _fit(
    machine: Lateness, rest: _Rest, tight: float, spill: float, breaks: Array, kinks: Array
) -> _Smooth | None:
    """∫φf over the panels between ``breaks``, halved until they are fine enough; None if nothing is left."""
    lefts, rights = breaks[:-1], breaks[1:]
    done: list[tuple[Array, Array, Array]] = []
    for depth in range(_DEPTH + 1):
        half = 0.5 * (rights - lefts)
        x = (0.5 * (lefts + rights) + np.outer(_POINTS, half)).ravel()
        values = (machine.density(x) * _ahead(x, rest, tight, spill)).reshape(_NODES, -1)
        fitted = (_MATRIX @ values) * half
        rough = np.abs(fitted[-2:]).max(axis=0) > _TOLERANCE
        if depth == _DEPTH:
            rough[:] = False
        done.append((lefts[~rough], rights[~rough], fitted[:-2, ~rough]))
        if not rough.any():
            break
        middle = 0.5 * (lefts[rough] + rights[rough])
        lefts, rights = np.concatenate([lefts[rough], middle]), np.concatenate([middle, rights[rough]])
    left = np.concatenate([d[0] for d in done])
    right = np.concatenate([d[1] for d in done])
    coefficients = np.concatenate([d[2] for d in done], axis=1)
    order = np.argsort(left)
    left, right, coefficients = left[order], right[order], coefficients[:, order]
    masses = coefficients.sum(axis=0)  # every Chebyshev polynomial is 1 at the right end
    full = np.flatnonzero(masses > 1e-18)
    if len(full) == 0:
        return None
    kept = slice(full[0], full[-1] + 1)
    upto = np.concatenate([[0.0], np.cumsum(masses[kept])])
    edges = np.append(left[kept], right[full[-1]])
    return _Smooth(edges, np.ascontiguousarray(coefficients[:, kept]), upto, kinks)
