"""Two groups of glides, or a wing and its maker's polar: can the logs tell them apart? In numbers and words."""

from __future__ import annotations

from collections.abc import Sequence

from flightlog.air.wing_polars import WingExpectation
from flightlog.gliding.results import GroupComparison, MakerComparison
from flightlog.measures.polar_differences import (
    PolarDifference,
    common_airspeeds_mps,
    compare_polars,
    compare_with_maker,
    flown_range_mps,
)
from flightlog.measures.polars import GlideBlocks
from flightlog.wings import Wing

LIFT_SHARE_APART = 0.05
"""Two sets whose shares of straight climbing differ by more were not flown in the same way."""


def maker_comparison(blocks: GlideBlocks, wing: Wing, expected: tuple[WingExpectation, ...]) -> MakerComparison:
    """The glides beside the maker's polar."""
    differences = compare_with_maker(blocks, wing, expected)
    note = (
        f"the maker's polar holds for an all-up weight of {wing.all_up_kg:.0f} kg: "
        "speeds and sinks go with the root of the weight"
    )
    if not differences:
        return MakerComparison((), "There is too little straight glide to compare with the maker's polar.", note)
    told = [one for one in differences if one.tells_apart]
    if not told:
        middle = _headline(differences)
        text = f"These logs cannot tell the wing from its maker's polar: {_in_words(middle)}."
        return MakerComparison(differences, text, note)
    text = f"These logs show another polar than the maker's: {_told_words(told)}."
    return MakerComparison(differences, text, note)


def comparisons(
    pooled: dict[str, GlideBlocks], expected: tuple[WingExpectation, ...]
) -> tuple[GroupComparison, ...]:
    """Every other group against the one of most glide."""
    if len(pooled) < 2:
        return ()
    first = max(pooled, key=lambda name: pooled[name].glide_time_s)
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
    told = [item for item in differences if item.tells_apart]
    if told:
        text = f"These logs tell the two apart: {_told_words(told)}."
    else:
        text = f"These logs cannot tell the two apart: {_in_words(_headline(differences))}."
    return GroupComparison(first, second, differences, bool(told), text, _comparison_note(one, other))


def _comparison_note(one: GlideBlocks, other: GlideBlocks) -> str:
    """What the comparison rests on, and what stands in its way."""
    words = ["both polars share one expectation, so this is not the difference of the two polars shown"]
    (low, high), (other_low, other_high) = flown_range_mps(one), flown_range_mps(other)
    if not common_airspeeds_mps(max(low, other_low), min(high, other_high)):
        words.append("no airspeed was flown in both: what differs with speed is told by the class alone")
    if abs(one.lift_share - other.lift_share) > LIFT_SHARE_APART:
        words.append(
            f"{one.lift_share:.0%} of the straight flight of the first climbed and {other.lift_share:.0%} of the "
            "second's: the air was not the same"
        )
    return "; ".join(words)


def _headline(differences: Sequence[PolarDifference]) -> PolarDifference:
    """The difference that is named where none is told: that of the best glide, else the middle one."""
    return next(
        (item for item in differences if item.figure == "best_glide_ratio"), differences[len(differences) // 2]
    )


def _told_words(told: Sequence[PolarDifference]) -> str:
    """The figures that differ; of the sinks that at the airspeed where it shows most clearly."""
    sinks = [item for item in told if item.figure == "sink_mps"]
    clearest = max(sinks, key=_clearness, default=None)
    named = [item for item in told if item.figure != "sink_mps" or item is clearest]
    return "; ".join(_in_words(item) for item in named)


def _clearness(item: PolarDifference) -> float:
    """How far nought lies outside, in widths of the interval."""
    width = item.difference.high - item.difference.low
    return abs(item.difference.value) / width if width > 0 else 0.0


def _in_words(item: PolarDifference) -> str:
    """One difference as a clause.

    >>> from flightlog.estimates import Estimate
    >>> _in_words(PolarDifference("best_glide_ratio", None, Estimate(0.3, -0.9, 1.5), False))
    'the difference in best glide is 0.3, from -0.9 to 1.5'
    """
    name, unit, decimals = {
        "best_glide_ratio": ("best glide", "", 1),
        "min_sink_mps": ("least sink", " m/s", 2),
    }.get(item.figure, (f"sink at {item.airspeed_mps or 0.0:g} m/s", " m/s", 2))
    value, low, high = (
        f"{part:.{decimals}f}" if round(part, decimals) else "0"
        for part in (item.difference.value, item.difference.low, item.difference.high)
    )
    return f"the difference in {name} is {value}{unit}, from {low} to {high}"
