"""Two groups of glides, or a wing and its maker's polar: can the logs tell them apart? In numbers and words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from flightlog.air.wing_polars import WingExpectation
from flightlog.gliding.results import GroupComparison, MakerComparison
from flightlog.measures.polar_differences import (
    PolarDifference,
    common_airspeeds_mps,
    compare_polars,
    compare_with_maker,
    flown_range_mps,
)
from flightlog.measures.polars import LEAST_GLIDE_S, LIFT_WORTH_A_WORD, GlideBlocks
from flightlog.wings import Wing

LIFT_SHARE_APART = 0.05
"""Two sets whose shares of straight climbing differ by more were not flown in the same way."""


def _of_metres_a_second(value_mps: float) -> str:
    """A speed with its unit."""
    return f"{value_mps:g} m/s"


def _one_decimal(value: float) -> str:
    """A difference of glide ratios; a nought has no sign."""
    return f"{value:.1f}" if round(value, 1) else "0"


def _two_decimals(value: float) -> str:
    """A difference of sinks; a nought has no sign."""
    return f"{value:.2f}" if round(value, 2) else "0"


@dataclass(frozen=True)
class Wording:
    """How figures are said in sentences: airspeeds with their unit, differences of sink and of ratios without."""

    airspeed: Callable[[float], str] = _of_metres_a_second
    sink: Callable[[float], str] = _two_decimals
    sink_unit: str = "m/s"
    ratio: Callable[[float], str] = _one_decimal


IN_SI = Wording()


def maker_comparison(blocks: GlideBlocks, wing: Wing, expected: tuple[WingExpectation, ...]) -> MakerComparison:
    """The glides beside the maker's polar."""
    differences = compare_with_maker(blocks, wing, expected)
    words = [
        f"the maker's polar holds for an all-up weight of {wing.all_up_kg:.0f} kg: "
        "speeds and sinks go with the root of the weight"
    ]
    if not differences:
        reason = "There is too little straight glide to compare with the maker's polar."
        if blocks.glide_time_s >= LEAST_GLIDE_S:
            reason = "The maker's polar has too few points, or none at the airspeeds flown, to compare with."
        return MakerComparison((), reason, words[0])
    words.append("neither the class nor the maker draws this, so it is not the difference from the polar shown")
    if blocks.lift_share > LIFT_WORTH_A_WORD:
        share = f"{100.0 * blocks.lift_share:.0f} %"
        words.append(f"{share} of the straight flight climbed: rising air may have flattered the wing")
    return MakerComparison(differences, maker_sentence(differences), "; ".join(words))


def maker_sentence(differences: Sequence[PolarDifference], wording: Wording = IN_SI) -> str:
    """Whether the glides can be told from the maker's polar, by one difference or more."""
    told = [one for one in differences if one.tells_apart]
    if told:
        return f"These logs show another polar than the maker's: {_told_words(told, wording)}."
    middle = _in_words(_headline(differences), wording)
    return f"These logs cannot tell the wing from its maker's polar: {middle}."


def group_sentence(differences: Sequence[PolarDifference], wording: Wording = IN_SI) -> str:
    """Whether two groups can be told apart, by one difference or more."""
    told = [item for item in differences if item.tells_apart]
    if told:
        return f"These logs tell the two apart: {_told_words(told, wording)}."
    return f"These logs cannot tell the two apart: {_in_words(_headline(differences), wording)}."


def comparisons(
    pooled: dict[str, GlideBlocks], expected: tuple[WingExpectation, ...], nameless: str = ""
) -> tuple[GroupComparison, ...]:
    """Every other group against the one of most glide; `nameless`, the rest, is that one only beside one other."""
    if len(pooled) < 2:
        return ()
    candidates = [name for name in pooled if name != nameless or len(pooled) == 2]
    first = max(candidates, key=lambda name: pooled[name].glide_time_s)
    return tuple(
        _comparison(first, pooled[first], name, blocks, expected)
        for name, blocks in pooled.items()
        if name != first
    )


def _comparison(
    first: str, one: GlideBlocks, second: str, other: GlideBlocks, expected: tuple[WingExpectation, ...]
) -> GroupComparison:
    """Second less first, and whether the two can be told apart."""
    differences = compare_polars(one, other, expected)
    if not differences:
        text = "These logs cannot tell the two apart: one of them has too little straight glide."
        return GroupComparison(first, second, (), False, text)
    told = any(item.tells_apart for item in differences)
    text = group_sentence(differences)
    return GroupComparison(first, second, differences, told, text, _comparison_note(one, other))


def _comparison_note(one: GlideBlocks, other: GlideBlocks) -> str:
    """What the comparison rests on, and what stands in its way."""
    words = ["both polars share one expectation, so this is not the difference of the two polars shown"]
    (low, high), (other_low, other_high) = flown_range_mps(one), flown_range_mps(other)
    if not common_airspeeds_mps(max(low, other_low), min(high, other_high)):
        words.append("no airspeed was flown in both: what differs with speed is told by the class alone")
    if abs(one.lift_share - other.lift_share) > LIFT_SHARE_APART:
        words.append(
            f"{100.0 * one.lift_share:.0f} % of the straight flight of the first climbed and "
            f"{100.0 * other.lift_share:.0f} % of the second's: the air was not the same"
        )
    return "; ".join(words)


def _headline(differences: Sequence[PolarDifference]) -> PolarDifference:
    """The difference that is named where none is told: that of the best glide, else the middle one."""
    return next(
        (item for item in differences if item.figure == "best_glide_ratio"), differences[len(differences) // 2]
    )


def _told_words(told: Sequence[PolarDifference], wording: Wording) -> str:
    """The figures that differ; of the sinks that at the airspeed where it shows most clearly."""
    sinks = [item for item in told if item.figure == "sink_mps"]
    clearest = max(sinks, key=_clearness, default=None)
    named = [item for item in told if item.figure != "sink_mps" or item is clearest]
    return "; ".join(_in_words(item, wording) for item in named)


def _clearness(item: PolarDifference) -> float:
    """How far nought lies outside, in widths of the interval."""
    width = item.difference.high - item.difference.low
    return abs(item.difference.value) / width if width > 0 else 0.0


def _in_words(item: PolarDifference, wording: Wording = IN_SI) -> str:
    """One difference as a clause.

    >>> from flightlog.estimates import Estimate
    >>> _in_words(PolarDifference("best_glide_ratio", None, Estimate(0.3, -0.9, 1.5), False))
    'the difference in best glide is 0.3, from -0.9 to 1.5'
    """
    parts = item.difference.value, item.difference.low, item.difference.high
    if item.figure == "best_glide_ratio":
        value, low, high = (wording.ratio(part) for part in parts)
        return f"the difference in best glide is {value}, from {low} to {high}"
    name = (
        "least sink" if item.figure == "min_sink_mps" else f"sink at {wording.airspeed(item.airspeed_mps or 0.0)}"
    )
    value, low, high = (wording.sink(part) for part in parts)
    return f"the difference in {name} is {value} {wording.sink_unit}, from {low} to {high}"
