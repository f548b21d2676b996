"""A difference in time as a paragraph that a pilot can read."""

from __future__ import annotations

from flightlog.comparing.results import PARTS, Difference

NAMES = {
    "start": "starting after the gate",
    "detour": "the way flown in gliding",
    "glide_speed": "the speed of gliding",
    "glide_ratio": "the height lost for the way glided",
    "climbing": "the rate of climb",
    "searching": "searching and waiting",
    "height": "the height brought to the legs and left at their ends",
}
"""What each part is, in words that fit after `in` and `by`."""
SMALL_SHARE = 0.1
"""Parts below this share of the largest are told as small."""
LEAST_TOLD_S = 5.0


def span_of(seconds: float) -> str:
    """A length of time in minutes and seconds.

    >>> span_of(75.4), span_of(-12.0), span_of(4000.0)
    ('1 min 15 s', '12 s', '1 h 06 min 40 s')
    """
    whole = round(abs(seconds))
    hours, minutes, rest = whole // 3600, whole % 3600 // 60, whole % 60
    if hours:
        return f"{hours} h {minutes:02d} min {rest:02d} s"
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


def difference_text(found: Difference) -> str:
    """The paragraph: how much, what it was lost and gained on, and how far each part can be trusted."""
    if abs(found.total_s) < 0.5:
        opening = f"{found.pilot} took as long as {found.against} to {found.to}."
    else:
        word = "more" if found.total_s > 0 else "less"
        opening = f"{found.pilot} took {span_of(found.total_s)} {word} than {found.against} to {found.to}."
    parts = {name: getattr(found.parts, name) for name in PARTS}
    largest = max(abs(value) for value in parts.values())
    told = {name: v for name, v in parts.items() if abs(v) >= max(SMALL_SHARE * largest, LEAST_TOLD_S)}
    lost = [_told(found, name) for name in sorted(told, key=lambda name: -told[name]) if told[name] > 0]
    won = [_told(found, name) for name in sorted(told, key=lambda name: told[name]) if told[name] < 0]
    sentences = [opening]
    if lost:
        sentences.append(f"Lost in {_joined(lost)}.")
    if won:
        sentences.append(f"Gained in {_joined(won)}.")
    if not lost and not won:
        sentences.append("No part of it differs by more than a few seconds.")
    return " ".join(sentences)


def _told(found: Difference, name: str) -> str:
    """One part with its error."""
    seconds = span_of(getattr(found.parts, name))
    sd = 0.0 if found.parts_sd is None else 2.0 * float(getattr(found.parts_sd, name))
    return f"{NAMES[name]} {seconds}" + (f" (give or take {span_of(sd)})" if sd >= 1.0 else "")


def _joined(words: list[str]) -> str:
    """Words as a list in a sentence."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
