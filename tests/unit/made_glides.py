"""Made-up blocks of glide, and logs of them, of wings that are known."""

from __future__ import annotations

import hashlib

import numpy as np

from flightlog.air.polar_statistics import Pieces
from flightlog.air.wing_polars import polar_coefficients
from flightlog.gliding.results import GlideLog
from flightlog.measures.polars import GlideBlocks
from flightlog.wings import Wing

Figures = tuple[float, float, float]
"""Best glide ratio, its airspeed, share of the least-sink airspeed."""


def coefficients(figures: Figures) -> np.ndarray:
    return polar_coefficients(*(np.array([figure]) for figure in figures))[0]


def blocks_of(
    figures: Figures, minutes: float, seed: int, *, speed_mps: float | None = None, rough: float = 1.0
) -> GlideBlocks:
    """Glides of two minutes in rough air: 0.15 m/s from one to the next, 0.4 m/s within, wind off by 0.4 m/s."""
    rng = np.random.default_rng(seed)
    count = int(minutes * 3)
    glide = np.arange(count) // 6
    glides = int(glide.max()) + 1
    middle = speed_mps or figures[1]
    speed = (middle * np.exp(rng.normal(0.0, 0.1, glides)))[glide] + rng.normal(0.0, 0.3, count)
    air = np.zeros(count)
    likeness = np.exp(-20.0 / 40.0)
    fresh = rng.standard_normal(count)
    for k in range(count):
        starts = k == 0 or glide[k] != glide[k - 1]
        air[k] = fresh[k] if starts else likeness * air[k - 1] + np.sqrt(1 - likeness**2) * fresh[k]
    a, b, c = coefficients(figures)
    sink = (a * speed + b) * speed + c + rough * (0.4 * air + rng.normal(0.0, 0.15, glides)[glide])
    seen = speed + rough * rng.normal(0.0, 0.4, glides)[glide]
    pieces = Pieces(glide, np.arange(count) * 20.0 + glide * 300.0, seen, sink, np.full(count, 0.4 * rough + 0.05))
    return GlideBlocks(pieces, count * 20.0, 0.0)


def makers_wing(figures: Figures, speeds: tuple[float, ...] = (8.0, 9.5, 11.0, 12.5, 14.0)) -> Wing:
    a, b, c = coefficients(figures)
    return Wing("Invented", "paraglider", 5.0, 95.0, polar=tuple((v, float((a * v + b) * v + c)) for v in speeds))


def glide_log_of(
    blocks: GlideBlocks,
    file: str = "monday.igc",
    *,
    wing: str | None = "Invented wing",
    date: str | None = "2026-06-14",
    note: str | None = None,
    flown_s: tuple[tuple[float, float], ...] = (),
) -> GlideLog:
    """A log that holds these blocks and one flight; its digest is that of its file name."""
    digest = hashlib.sha256(file.encode()).hexdigest()
    return GlideLog(file, digest, date, wing, note, 1, (), blocks, flown_s)
