"""The colours of a page: contrast of texts and lines, and distance for readers who see colours otherwise."""

from __future__ import annotations

import itertools
import re
from importlib.resources import files

import numpy as np
import pytest

from flightlog.writers.chart_styles import PAPER

PHASES = ("--chart-launch", "--chart-climb", "--chart-glide", "--chart-search", "--chart-approach")
TEXTS = ("--ink", "--quiet", "--link")
LEAST_DISTANCE = 20.0
"""CIE 1976 difference between any two colours of phases. 2.3 is just noticeable; ours are thin lines and small
fields, some of them over a tint, and are told by dashes or patterns as well."""
READERS = {
    "usual": np.eye(3),
    # Machado, Oliveira & Fernandes 2009, "A Physiologically-based Model for Simulation of Color Vision
    # Deficiency", IEEE TVCG 15(6), severity 1.0; values from memory. They act on linear RGB.
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# linear sRGB to CIE XYZ, and the white D65 (IEC 61966-2-1)
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = TO_XYZ.sum(axis=1)


def schemes() -> dict[str, dict[str, str]]:
    """Colours in light, dark, print and PDF, as the style of the page has them."""
    style = files("flightlog.writers").joinpath("page.css").read_text(encoding="utf-8")
    light, dark, printed = (
        dict(re.findall(r"(--[a-z-]+): (#[0-9a-f]{3,6})", block))
        for block in re.findall(r":root \{(.*?)\}", style, re.S)
    )
    return {"light": light, "dark": light | dark, "print": light | printed, "pdf": {"--paper": "#ffffff", **PAPER}}


def linear(colour: str) -> np.ndarray:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * one for one in colour[1:])
    parts = np.array([int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definitions of contrast ratio and relative luminance)."""
    high, low = sorted((float(TO_XYZ[1] @ linear(colour)) for colour in (first, second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def lab(colour: str, reader: str) -> np.ndarray:
    """CIE 1976 L*a*b* of a colour as a reader sees it."""
    xyz = TO_XYZ @ np.clip(READERS[reader] @ linear(colour), 0.0, 1.0) / WHITE
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def distance(first: str, second: str, reader: str) -> float:
    return float(np.linalg.norm(lab(first, reader) - lab(second, reader)))


def test_the_measures_give_known_values():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2, the largest ratio there is
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # known to fail level AA, from memory
    assert distance("#000000", "#ffffff", "usual") == pytest.approx(100.0, abs=0.1)
    for matrix in READERS.values():  # grey stays grey
        assert matrix.sum(axis=1) == pytest.approx(np.ones(3), abs=2e-6)
    assert distance("#ff0000", "#808000", "deuteranopia") < 0.35 * distance("#ff0000", "#808000", "usual")


@pytest.mark.parametrize("scheme", ["light", "dark", "print", "pdf"])
def test_texts_and_lines_stand_out_from_what_they_stand_on(scheme):
    """4.5 for text, 3 for what a chart is read by (WCAG 2.2, success criteria 1.4.3 and 1.4.11)."""
    colours = schemes()[scheme]
    for ground in (colours["--paper"], colours["--card"]):
        assert {name: contrast(colours[name], ground) >= 4.5 for name in TEXTS if name in colours} == {
            name: True for name in TEXTS if name in colours
        }
        assert all(contrast(colours[name], ground) >= 3.0 for name in PHASES)


@pytest.mark.parametrize("scheme", ["light", "dark", "print", "pdf"])
@pytest.mark.parametrize("reader", READERS)
def test_phases_are_told_apart_by_every_reader(scheme, reader):
    colours = schemes()[scheme]
    pairs = itertools.combinations(PHASES, 2)
    apart = {(a, b): distance(colours[a], colours[b], reader) for a, b in pairs}
    assert min(apart.values()) > LEAST_DISTANCE, min(apart, key=apart.get)
