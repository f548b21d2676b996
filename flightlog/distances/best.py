"""The best distances of every flight of a day: straight, free, out and return, triangles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from flightlog.distances.closing import Closing, closing_from
from flightlog.distances.figures import KINDS, distances_of
from flightlog.distances.positions import Positions, positions_of
from flightlog.distances.results import DistanceRules, FlightDistances
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan
from flightlog.settings import UNKNOWN_WING, Settings
from flightlog.tracks.track import Track


class Flown(Protocol):
    """A debriefed log: `flightlog.debrief` gives one."""

    @property
    def track(self) -> Track: ...  # noqa: D102

    @property
    def motion(self) -> Motion: ...  # noqa: D102

    @property
    def spans(self) -> tuple[FlightSpan, ...]: ...  # noqa: D102

    @property
    def settings(self) -> Settings: ...  # noqa: D102


def best_distances(
    day: Flown,
    *,
    closing: Closing | str | None = None,
    time_limit_s: float | None = None,
    kinds: Sequence[str] = tuple(KINDS),
) -> tuple[FlightDistances, ...]:
    """The best distances of every flight of a log, over all its fixes.

    Parameters
    ----------
    day : Debrief
        From `flightlog.debrief`.
    closing : str or Closing, optional
        How far apart start and finish of a closed course may be: a share of its distance such as `"5%"` (the
        default, common practice: no text of the FAI with a number was read), or a length such as `"800m"`.
    time_limit_s : float, optional
        For all figures of one flight, 20 s by default. Ordinary flights need 0.3 s. Where it ends a search, the
        best course found so far is given, and `gap_m` says how much longer another could be at most.
    kinds : sequence of str
        The fields of the result to search for; the others are left None.

    Returns
    -------
    tuple of FlightDistances
        One a flight, in order. A course that was not flown is None.

    Raises
    ------
    SettingsError
        `closing` is neither a share nor a length.

    Notes
    -----
    The same log gives the same result unless the time limit ends a search. The definitions are those of
    `rules_of`; the searches are those of `longest_way` and `longest_course`.
    """
    rule = closing_of(closing, day.settings)
    limit_s = day.settings.distance_time_limit_s if time_limit_s is None else time_limit_s
    return tuple(
        distances_of(_positions_of(day, span), span.number, rule, limit_s, day.settings, kinds)
        for span in day.spans
    )


def closing_of(rule: Closing | str | None, settings: Settings = UNKNOWN_WING) -> Closing:
    """The closing rule a user asks for, or that of the settings."""
    if isinstance(rule, Closing):
        return rule
    return Closing(share=settings.distance_closing_share) if rule is None else closing_from(rule)


def rules_of(closing: Closing, settings: Settings = UNKNOWN_WING) -> DistanceRules:
    """What counts as what, for the reader of a result."""
    share = settings.distance_fai_leg_share
    return DistanceRules(
        closing=str(closing),
        closing_share=closing.share,
        closing_limit_m=closing.metres,
        fai_leg_share=share,
        earth="WGS 84 ellipsoid, geodesics",
        definitions=(
            "open distance: from one fix straight to a later one (FAI Sporting Code 7, 1.6.5.8: free distance)",
            "free distance over up to three turnpoints: the legs in order of time; turnpoints may lie nearer "
            "together than the 10 km that records ask for",
            f"out and return: the legs from a start to a turnpoint to a finish, start and finish within {closing}",
            f"triangle: the legs between three fixes, a start before and a finish after them within {closing}; "
            "the gap between start and finish is not taken off",
            f"FAI triangle: a triangle whose legs are {100 * share:g} % of it or more",
        ),
    )


def _positions_of(day: Flown, span: FlightSpan) -> Positions:
    """The recorded fixes of a flight, from lift-off to touchdown; spikes were taken out before."""
    in_flight = (day.motion.time_s >= span.liftoff_s) & (day.motion.time_s <= span.touchdown_s)
    fix = day.motion.fix[in_flight]
    track = day.track
    return positions_of(day.motion.time_s[in_flight], track.latitude_deg[fix], track.longitude_deg[fix])
