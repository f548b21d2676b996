"""The words in which results are told: kinds, modes and outcomes as a pilot says them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flightlog.measures.results import Approach, Polar
    from flightlog.writers.display import Display

PHASES = {
    "launch_run": "launch run",
    "climb": "climb",
    "glide": "glide",
    "search": "search",
    "approach": "approach",
}
MODES = {"circling": "circling", "ridge": "along the slope", "straight": "straight on"}
TURNS = {"left": "left", "right": "right", "mixed": "both ways"}
LANDINGS = {"top_landing": "top landing", "landing": "landing", "end_of_log": "log ends in the air"}
OUTCOMES = {"landed": "landed", "go_around": "go-around"}
CERTAINTIES = {"sure": "sure", "possible": "possible"}
PATTERNS = {
    "figure_of_eight": "figures of eight",
    "circuit": "a circuit",
    "straight_in": "a straight approach",
    "other": "an approach of no plain shape",
}
REFERENCES = {"next_climb": "time to the top of the next climb", "best_glide_over_ground": "height for the way"}
ALTITUDES = {"pressure": "air pressure", "gnss": "satellites alone"}
WING_CLASSES = {
    "paraglider": "paraglider",
    "hang_glider": "hang glider",
    "rigid_wing": "rigid wing",
    "sailplane": "sailplane",
    "unknown": "any foot-launched wing",
}


def word(words: dict[str, str], key: str | None) -> str:
    """The word for a key; the key itself, spelt out, where there is none.

    >>> word(MODES, "ridge"), word(MODES, "up_and_away"), word(MODES, None)
    ('along the slope', 'up and away', '–')
    """
    return "–" if key is None else words.get(key, key.replace("_", " "))


def counted(count: int, one: str, many: str | None = None) -> str:
    """A number with its noun.

    >>> counted(1, "pass", "passes"), counted(3, "pass", "passes"), counted(0, "climb")
    ('1 pass', '3 passes', 'no climbs')
    """
    plural = many or f"{one}s"
    return f"no {plural}" if count == 0 else f"1 {one}" if count == 1 else f"{count} {plural}"


def listed(texts: list[str]) -> str:
    """Texts in a row, with "and" before the last.

    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"


def polar_note(polar: Polar | None, show: Display) -> str | None:
    """What a polar rests on, its airspeeds in the reader's units."""
    if polar is None:
        return None
    if polar.basis is None:
        return polar.note
    from flightlog.measures.polars import basis_words

    return basis_words(polar.glide_time_s, polar.basis, lambda mps: show.figure(mps, "speed"), show.unit("speed"))


def unsteady_words(approach: Approach, show: Display) -> tuple[str, ...]:
    """The ways in which an approach was not steady, in the reader's units; as written without figures."""
    if not approach.unsteady_ways:
        return approach.unsteady
    from flightlog.measures.unsteadiness import in_si, unsteady_in_words

    def figure(value: float, kind: str) -> str:
        """Times in whole seconds: the approach is looked at every half."""
        return in_si(value, kind) if kind == "seconds" else show.with_unit(value, kind)

    return tuple(unsteady_in_words(way, figure) for way in approach.unsteady_ways)


def numbered(numbers: list[int]) -> str:
    """Numbers in a row, three and more after each other as a range.

    >>> numbered([1, 2, 4, 5, 6, 9]), numbered([3])
    ('1, 2, 4–6, 9', '3')
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return ", ".join(parts)


def sentence(text: str) -> str:
    """The text with a capital first letter and a full stop.

    >>> sentence("the log ends in the air"), sentence("Done.")
    ('The log ends in the air.', 'Done.')
    """
    return text[:1].upper() + text[1:].rstrip(".") + "." if text else ""
