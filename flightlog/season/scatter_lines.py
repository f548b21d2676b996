"""A straight line through figures that each have an error of their own, and that differ from day to day besides.

A figure of flight i on day d is y = X b + u_d + v_i + e_i: e_i is its own error, of known standard deviation;
u_d what the flights of one day share (weather), v_i what is left. The variances of u and v are found by restricted
maximum likelihood; the line's errors by Student's t on the days, never narrower than the scatter met asks for.
Least squares, which knows neither, would find changes where there is only weather.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats, Ints

LEAST_DAYS = 5
"""Fewer days leave the scatter between them unknown."""
WIDEST = 3.0
"""No variance is sought beyond this many standard deviations of the figures themselves."""
STARTS = ((0.7, 0.1), (0.1, 0.7))
"""Shares of the figures' standard deviation from which the two scatters are sought (flights, days)."""


@dataclass(frozen=True)
class ScatterLine:
    """The line: coefficients with their covariance, its degrees of freedom, and the scatter about it.

    `flight_sd` and `day_sd`: how flights and days scatter beyond their known errors, in the unit of the figures.
    """

    coefficients: Floats  # (p,)
    covariance: Floats  # (p, p)
    degrees: int
    flight_sd: float
    day_sd: float

    def at(self, row: Floats) -> tuple[float, float]:
        """Value at one row (p,) of the design, and half the width of its 95 % interval."""
        from scipy.special import stdtrit

        half = float(stdtrit(self.degrees, 0.975)) * float(np.sqrt(row @ self.covariance @ row))
        return float(row @ self.coefficients), half


def fit_scatter_line(values: Floats, errors: Floats, day: Ints, design: Floats) -> ScatterLine | None:
    """The line through figures with known errors, flown on days.

    Parameters
    ----------
    values, errors : (n,) arrays
        The figures and the standard deviations of their own errors, 0 or more; all finite.
    day : (n,) array of int
        Which day each was flown on, numbered from 0 without a gap.
    design : (n, p) array
        What the line is made of: a column of ones, the time, one column for each further wing.

    Returns
    -------
    ScatterLine or None
        None with fewer than `LEAST_DAYS` days, fewer than 2 beyond the columns, or columns that tell the same.

    References
    ----------
    DerSimonian & Laird 1986, Controlled Clinical Trials 7:177-188: figures with errors of their own, and scatter
    between them. Patterson & Thompson 1971, Biometrika 58:545-554: restricted likelihood. Knapp & Hartung 2003,
    Statistics in Medicine 22:2693-2710: Student's t with the scatter met; never narrowed by it: Roever, Knapp &
    Friede 2015, BMC Medical Research Methodology 15:99. (All from memory.)
    """
    from scipy.optimize import minimize

    days = int(day.max(initial=-1)) + 1
    degrees = days - design.shape[1]
    if days < LEAST_DAYS or degrees < 2 or np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    scale = float(np.std(values)) or float(np.max(errors)) or 1.0
    model = _Model(values / scale, errors / scale, day, design)
    shared = days < len(values)  # else what days share and what flights have of their own cannot be told apart
    bounds = [(0.0, WIDEST), (0.0, WIDEST if shared else 0.0)]
    starts = STARTS if shared else tuple((start, 0.0) for start, _ in STARTS)
    fits = [minimize(model.loss, start, method="L-BFGS-B", bounds=bounds) for start in starts]
    best = min(fits, key=lambda fit: float(fit.fun))
    flight_sd, day_sd = (float(sd) for sd in best.x)
    coefficients, covariance, quadratic, _ = model.solved(flight_sd, day_sd)
    inflation = max(1.0, quadratic / (len(values) - design.shape[1]))
    return ScatterLine(
        coefficients * scale, covariance * scale**2 * inflation, degrees, flight_sd * scale, day_sd * scale
    )


@dataclass(frozen=True, eq=False)
class _Model:
    """The figures in units of their scatter, ready to be weighed."""

    values: Floats
    errors: Floats
    day: Ints
    design: Floats

    def loss(self, scatters: Floats) -> float:
        """Twice the negative restricted log likelihood, less a constant."""
        _, covariance, quadratic, log_volume = self.solved(float(scatters[0]), float(scatters[1]))
        return log_volume - float(np.linalg.slogdet(covariance)[1]) + quadratic

    def solved(self, flight_sd: float, day_sd: float) -> tuple[Floats, Floats, float, float]:
        """Coefficients, their covariance, the sum of squares about the line, log determinant of the variance.

        The variance of a day's figures is a diagonal plus a constant, whose inverse is known (Sherman & Morrison).
        """
        weight = 1.0 / (self.errors**2 + flight_sd**2 + 1e-8)
        by_day = np.bincount(self.day, weight)
        shrink = day_sd**2 / (1.0 + day_sd**2 * by_day)
        columns = np.column_stack([self.design, self.values])
        weighed = columns * weight[:, None]
        sums = np.stack([np.bincount(self.day, column) for column in weighed.T], axis=1)
        product = columns.T @ weighed - (sums * shrink[:, None]).T @ sums
        covariance = np.asarray(np.linalg.inv(product[:-1, :-1]), dtype=np.float64)
        coefficients: Floats = covariance @ product[:-1, -1]
        quadratic = float(product[-1, -1] - coefficients @ product[:-1, -1])
        log_volume = float(np.log1p(day_sd**2 * by_day).sum() - np.log(weight).sum())
        return coefficients, covariance, max(quadratic, 0.0), log_volume
