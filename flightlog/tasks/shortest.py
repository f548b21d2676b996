"""The shortest route through targets in order, exact, with a bound that proves it.

Discs and lines make a convex problem: Newton's method with a logarithmic barrier (Boyd & Vandenberghe 2004,
chapter 11), on lengths smoothed so that legs may vanish. The directions of the legs give a lower bound of any
route's length for nothing, so that every solution knows how far from the best it can be. What must be left is
not convex: the half plane beyond the tangent at the best point so far stands for it, and moves along until the
route gets no shorter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats
from flightlog.tasks.geometry import DISC, LINE, OUTSIDE, Target

GAP_M = 1e-3
"""A route is done when it is at most so much longer than the best one."""
_UNIT_M = 1000.0
_STAGES, _NEWTON_STEPS, _TANGENTS = 16, 40, 60
_GROWTH = 8.0
_FIRST_SMOOTHING = 1e-2
_CLOSE, _LAST_STEPS = 1e-5, 3
_FAR = 1e3  # in units: no route of a task leads so far from its tangent


@dataclass(frozen=True, eq=False)
class PlaneRoute:
    """A route on the plane: its corners after the start, (m, 2) in metres, its length, and how far it may be off.

    `gap_m` bounds the length above that of the best route; where a target must be left, above that of the best one
    beyond the tangents of this route.
    """

    corners_m: Floats
    length_m: float
    gap_m: float


def shortest_route(
    start_m: tuple[float, float], targets: Sequence[Target], near_m: Sequence[tuple[float, float]]
) -> PlaneRoute:
    """The shortest route from a point through the targets in order, beginning the search near these corners."""
    corners = np.array(near_m, dtype=np.float64)
    if not any(target.kind == OUTSIDE for target in targets):
        return _convex(start_m, targets, corners, [(0.0, 0.0)] * len(targets))
    best: PlaneRoute | None = None
    for _ in range(_TANGENTS):
        normals = [_normal(target, corner) for target, corner in zip(targets, corners, strict=True)]
        route = _convex(start_m, targets, corners, normals)
        if best is not None and route.length_m > best.length_m - GAP_M / 10.0:
            return route if route.length_m < best.length_m else best
        best, corners = route, route.corners_m
    assert best is not None  # noqa: S101 (at least one tangent was tried)
    return best


def _normal(target: Target, corner: Floats) -> tuple[float, float]:
    """Direction from the centre of what must be left to the corner."""
    east, north = float(corner[0]) - target.east_m, float(corner[1]) - target.north_m
    away = math.hypot(east, north)
    return (east / away, north / away) if away > 0.0 else (0.0, 1.0)


class _Problem:
    """The convex problem in units of a kilometre: corners p = base + frame z, with barriers on z or p."""

    def __init__(
        self,
        start_m: tuple[float, float],
        targets: Sequence[Target],
        corners_m: Floats,
        normals: Sequence[tuple[float, float]],
    ) -> None:
        self.kinds = np.array([target.kind for target in targets])
        self.start = np.array(start_m) / _UNIT_M
        self.centre = np.array([(t.east_m, t.north_m) for t in targets]) / _UNIT_M
        self.radius = np.array([t.radius_m for t in targets]) / _UNIT_M
        self.normal = np.array(normals)
        self.along = np.array([_along(t) for t in targets])
        self.is_disc, self.is_line = self.kinds == DISC, self.kinds == LINE
        self.is_outside = self.kinds == OUTSIDE
        self.corners = self._strictly_inside(corners_m / _UNIT_M)
        self.count = len(targets)

    def _strictly_inside(self, corners: Floats) -> Floats:
        """The corners, moved into what they must touch by a little."""
        off = corners - self.centre
        away = np.hypot(*off.T)
        shrunk = np.minimum(1.0, 0.98 * self.radius / np.maximum(away, 1e-12))
        inside = self.centre + off * shrunk[:, None]
        depth = np.sum(off * self.normal, axis=1)
        lift = np.maximum(1.02 * self.radius - depth, 0.0)
        beyond = corners + lift[:, None] * self.normal
        on_line = np.clip(np.sum(off * self.along, axis=1), -0.98 * self.radius, 0.98 * self.radius)
        lined = self.centre + on_line[:, None] * self.along
        chosen = np.where(self.is_outside[:, None], beyond, inside)
        return np.asarray(np.where(self.is_line[:, None], lined, chosen))

    def slacks(self, corners: Floats) -> Floats:
        """What must stay positive, one value a corner."""
        off = corners - self.centre
        disc = self.radius**2 - np.sum(off * off, axis=1)
        return np.asarray(np.where(self.is_outside, np.sum(off * self.normal, axis=1) - self.radius, disc))

    def length(self, corners: Floats, smoothing: float) -> float:
        """Length of the route, smoothed."""
        steps = np.diff(np.vstack([self.start, corners]), axis=0)
        return float(np.sqrt(np.sum(steps * steps, axis=1) + smoothing**2).sum())

    def value(self, corners: Floats, weight: float, smoothing: float) -> float:
        """What Newton's method makes small."""
        slacks = self.slacks(corners)
        if not (slacks > 0.0).all():
            return math.inf
        return weight * self.length(corners, smoothing) - float(np.log(slacks).sum())

    def derivatives(self, corners: Floats, weight: float, smoothing: float) -> tuple[Floats, Floats]:
        """Gradient (2m,) and Hessian (2m, 2m) of the value."""
        m = self.count
        steps = np.diff(np.vstack([self.start, corners]), axis=0)
        lengths = np.sqrt(np.sum(steps * steps, axis=1) + smoothing**2)
        unit = steps / lengths[:, None]
        bend = (np.eye(2) - unit[:, :, None] * unit[:, None, :]) / lengths[:, None, None] * weight
        gradient = weight * unit
        gradient[:-1] -= weight * unit[1:]
        blocks = bend.copy()
        blocks[:-1] += bend[1:]
        off, slacks = corners - self.centre, self.slacks(corners)
        push = np.where(self.is_outside[:, None], -self.normal, 2.0 * off) / slacks[:, None]
        gradient += push
        blocks += push[:, :, None] * push[:, None, :]
        blocks += np.where(self.is_outside, 0.0, 2.0 / slacks)[:, None, None] * np.eye(2)
        hessian = np.zeros((m, 2, m, 2))
        at = np.arange(m)
        hessian[at, :, at, :] = blocks
        hessian[at[:-1], :, at[1:], :] = -bend[1:]
        hessian[at[1:], :, at[:-1], :] = -bend[1:]
        return gradient.reshape(-1), hessian.reshape(2 * m, 2 * m)

    def confined(self, gradient: Floats, hessian: Floats) -> tuple[Floats, Floats]:
        """The derivatives with corners on lines held to them."""
        for k in np.flatnonzero(self.is_line):
            across = np.array([-self.along[k, 1], self.along[k, 0]])
            rows = slice(2 * k, 2 * k + 2)
            keep = np.outer(self.along[k], self.along[k])
            gradient[rows] = keep @ gradient[rows]
            hessian[rows] = keep @ hessian[rows]
            hessian[:, rows] = hessian[:, rows] @ keep
            hessian[rows, rows] += np.outer(across, across)
        return gradient, hessian

    def gap(self, corners: Floats, smoothing: float) -> float:
        """How much shorter than this route the best one can be, at most."""
        points = np.vstack([self.start, corners])
        steps = np.diff(points, axis=0)
        y = steps / np.sqrt(np.sum(steps * steps, axis=1) + smoothing**2)[:, None]
        turn = y.copy()
        turn[:-1] -= y[1:]
        bound = -float(y[0] @ self.start)
        for k in range(self.count):
            bound += self._least_along(k, turn[k], corners[k])
        return self.length(corners, 0.0) - bound

    def _least_along(self, k: int, turn: Floats, corner: Floats) -> float:
        """Least of p . turn over all p that the corner may be."""
        middle = float(self.centre[k] @ turn)
        if self.is_line[k]:
            return middle - float(self.radius[k]) * abs(float(self.along[k] @ turn))
        if self.is_disc[k]:
            return middle - float(self.radius[k] * np.hypot(*turn))
        push = float(turn @ self.normal[k])
        rest = turn - push * self.normal[k]
        if push < 0.0:
            return float(corner @ turn) - _FAR * float(np.hypot(*turn))
        edge = self.centre[k] + self.radius[k] * self.normal[k]
        return push * float(edge @ self.normal[k]) + float(corner @ rest) - _FAR * float(np.hypot(*rest))


def _along(target: Target) -> tuple[float, float]:
    """Unit vector along a line."""
    if target.kind != LINE:
        return (0.0, 0.0)
    east, north = target.ends[2] - target.ends[0], target.ends[3] - target.ends[1]
    length = math.hypot(east, north)
    return east / length, north / length


def _convex(
    start_m: tuple[float, float],
    targets: Sequence[Target],
    corners_m: Floats,
    normals: Sequence[tuple[float, float]],
) -> PlaneRoute:
    """The best route where every target is convex, or a half plane stands for it."""
    problem = _Problem(start_m, targets, corners_m, normals)
    corners, weight, smoothing = problem.corners, 1.0, _FIRST_SMOOTHING
    best, least_gap = corners, math.inf
    for _ in range(_STAGES):
        corners = _newton(problem, corners, weight, smoothing)
        gap = problem.gap(corners, smoothing)
        if gap < least_gap:
            best, least_gap = corners, gap
        if gap * _UNIT_M < GAP_M / 2.0:
            break
        weight, smoothing = weight * _GROWTH, smoothing / _GROWTH
    return PlaneRoute(best * _UNIT_M, problem.length(best, 0.0) * _UNIT_M, least_gap * _UNIT_M)


def _newton(problem: _Problem, corners: Floats, weight: float, smoothing: float) -> Floats:
    """The corners that make the value least, at this weight and smoothing."""
    value = problem.value(corners, weight, smoothing)
    finishing = 0
    for _ in range(_NEWTON_STEPS):
        gradient, hessian = problem.confined(*problem.derivatives(corners, weight, smoothing))
        at = np.arange(len(hessian))
        hessian[at, at] *= 1.0 + 1e-10  # a corner on a straight line may slide along it
        step = np.linalg.solve(hessian, -gradient).reshape(corners.shape)
        slope = float(gradient @ step.reshape(-1))
        if -slope < _CLOSE:  # the value can no longer tell a better point: Newton's own steps are exact here
            finishing += 1
            if finishing > _LAST_STEPS or not math.isfinite(problem.value(corners + step, weight, smoothing)):
                break
            corners = corners + step
            continue
        share = 1.0
        while problem.value(corners + share * step, weight, smoothing) > value + 0.1 * share * slope:
            share *= 0.5
            if share < 1e-10:
                return corners
        corners = corners + share * step
        value = problem.value(corners, weight, smoothing)
    return corners
