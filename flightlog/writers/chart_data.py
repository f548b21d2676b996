"""What the charts of a flight show, in display units: chosen stretches of the arrays, converted."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import UTC, datetime

import numpy as np

from flightlog.arrays import Floats
from flightlog.debriefing import Debrief
from flightlog.estimates import NORMAL_95
from flightlog.measures.climb_plans import climb_plans
from flightlog.measures.results import Event, Flight
from flightlog.phases.approaches import PassSpan
from flightlog.phases.grounds import Ground
from flightlog.phases.phases import FlightSpan
from flightlog.writers import words
from flightlog.writers.display import Display
from flightlog.writers.page_parts import Band, Bar, Chart, Disc, Mark, Panel, Series
from flightlog.writers.page_tables import direction, has_direction
from flightlog.writers.words import counted

MOST_POINTS = 40_000
"""Points of one line; those that cannot be seen are left out where it is drawn, and no extreme with them."""
SHOWN_AFTER_S = 25.0
"""How long a broken-off pass is shown after its end, so that the way out is seen."""
CLOCK_STEPS_S = (10, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14400)
MOST_CLOCK_TICKS = 7
MOST_PASS_CHARTS = 3
MOST_PLANS = 10
"""Climbs shown from above: two rows."""


def flight_charts(debrief: Debrief, flight: Flight, show: Display) -> tuple[Chart, ...]:
    """The charts of one flight; those that would be empty are left out."""
    at = debrief.flights.index(flight)
    span, passes = debrief.spans[at], debrief.pass_spans[at]
    charts = [time_chart(debrief, span, show), track_chart(debrief, flight, span, show)]
    if flight.wind.profile or flight.wind.estimates:
        charts.append(wind_chart(flight, show))
    plans = plans_chart(debrief, flight, show)
    charts += [plans] if plans else []
    grounds = list({id(one.ground): one.ground for one in passes}.values())
    for number, ground in enumerate(grounds[:MOST_PASS_CHARTS], 1):
        charts.append(pass_chart(debrief, flight.number, number, ground, passes, show))
    if flight.performance.polar:
        charts.append(polar_chart(flight, show))
    return tuple(charts)


def _shown(span: FlightSpan) -> slice:
    """The fixes of a flight, every k-th where there are very many."""
    return slice(span.first, span.stop, math.ceil(max(span.stop - span.first, 1) / MOST_POINTS))


def _points(values: Floats) -> tuple[float, ...]:
    """An array as plain numbers."""
    return tuple(values.tolist())


def _broken_at_gaps(values: Floats, piece: Floats) -> Floats:
    """The values with NaN where a gap of the recording begins."""
    starts = np.flatnonzero(np.diff(piece)) + 1
    return np.insert(values.astype(np.float64), starts, np.nan)


def time_chart(debrief: Debrief, span: FlightSpan, show: Display) -> Chart:
    """Altitude and vertical speed over time, with the phases behind them."""
    motion, shown = debrief.motion, _shown(span)
    piece = motion.piece[shown].astype(np.float64)
    time = _broken_at_gaps(motion.time_s[shown], piece)
    altitude = _broken_at_gaps(motion.altitude_m[shown], piece)
    climb = _broken_at_gaps(motion.climb_mps[shown], piece)
    bands = tuple(Band(phase.start_s, phase.end_s, phase.kind) for phase in span.phases)
    clock = clock_ticks(span.start_s, span.touchdown_s, show)
    title = "Height and vertical speed"
    upper = Panel(
        "",
        f"altitude ({show.unit('height')})",
        bands=bands,
        clock=clock,
        series=(Series(_points(time), _converted(altitude, "height", show), "line"),),
    )
    lower = Panel(
        f"time ({show.zone_name})",
        f"vertical speed ({show.unit('vertical')})",
        bands=bands,
        clock=clock,
        series=(Series(_points(time), _converted(climb, "vertical", show), "line"),),
    )
    kinds = ", ".join(dict.fromkeys(words.PHASES.get(phase.kind, phase.kind) for phase in span.phases))
    described = (
        f"Altitude and vertical speed from {show.clock(_moment(span.start_s))} to"
        f" {show.clock(_moment(span.touchdown_s))} {show.zone_name}, with bands for {kinds or 'no phases'}. The"
        " same phases stand in the table of phases."
    )
    return Chart(
        f"flight-{span.number}-time", title, described, "stacked", (upper, lower), is_wide=True, is_live=True
    )


def _converted(values: Floats, kind: str, show: Display) -> tuple[float, ...]:
    """An array in display units, as plain numbers."""
    return _points(values * show.converted(1.0, kind))


def _moment(time_s: float) -> datetime:
    """The UTC time of so many seconds."""
    return datetime.fromtimestamp(time_s, tz=UTC)


def clock_ticks(start_s: float, end_s: float, show: Display) -> tuple[tuple[float, str], ...]:
    """Round times of the reader's clock between two times, at most seven, each with its text."""
    step = next((s for s in CLOCK_STEPS_S if (end_s - start_s) / s <= MOST_CLOCK_TICKS), CLOCK_STEPS_S[-1])
    offset = _moment(start_s).astimezone(show.zone).utcoffset()
    shift = offset.total_seconds() if offset else 0.0
    first = math.ceil((start_s + shift) / step) * step - shift
    times = [first + step * number for number in range(int(max(end_s - first, 0.0) // step) + 1)]
    letters = 8 if step < 60 else 5
    return tuple((time, show.clock(_moment(time))[:letters]) for time in times if start_s <= time <= end_s)


def track_chart(debrief: Debrief, flight: Flight, span: FlightSpan, show: Display) -> Chart:
    """The track from above, north up, in the colours of the phases."""
    motion, shown = debrief.motion, _shown(span)
    east, north, time = motion.east_m[shown], motion.north_m[shown], motion.time_s[shown]
    apart = np.append(np.diff(motion.piece[shown]) != 0, False)
    series = tuple(
        _phase_series(kind, east, north, _inside(span, kind, time), apart, show)
        for kind in words.PHASES
        if any(phase.kind == kind for phase in span.phases)
    ) or (_phase_series("search", east, north, np.ones(len(time), dtype=bool), apart, show),)
    mean = flight.wind.mean if flight.wind.mean and has_direction(flight.wind.mean) else None
    label = f"wind {direction(mean, show)}, {show.with_unit(mean.speed_mps, 'speed')}" if mean else ""
    panel = Panel(
        show.unit("distance"),
        "",
        series=series,
        marks=(
            _event_mark(debrief, flight.takeoff, "takeoff", "take-off", show),
            _event_mark(debrief, flight.landing, "landing", "landing", show),
        ),
        discs=climb_discs(debrief, flight, show),
        discs_label="climb: area by height gained",
        has_equal_scales=True,
        is_map=True,
        wind_to_deg=(mean.from_deg + 180.0) % 360.0 if mean else None,
        wind_label=label,
    )
    described = "The track seen from above, north up, with take-off and landing and the phases in colours."
    if mean:
        described += f" An arrow shows the mean {label}."
    return Chart(f"flight-{flight.number}-track", "Track", described, "one", (panel,), is_live=True)


def climb_discs(debrief: Debrief, flight: Flight, show: Display) -> tuple[Disc, ...]:
    """Every climb that gained height, in the middle of its stretch of the track."""
    motion, discs = debrief.motion, []
    for climb in flight.climbs:
        first, last = np.searchsorted(motion.time_s, [climb.start.timestamp(), climb.end.timestamp()])
        if climb.gain_m is None or climb.gain_m <= 0.0 or last <= first:
            continue
        east, north = float(np.mean(motion.east_m[first:last])), float(np.mean(motion.north_m[first:last]))
        label = f"climb {climb.number}: {show.with_unit(climb.gain_m, 'height')} gained"
        place = show.converted(east, "distance"), show.converted(north, "distance")
        discs.append(Disc(*place, show.converted(climb.gain_m, "height"), str(climb.number), label))
    return tuple(discs)


def _inside(span: FlightSpan, kind: str, time: Floats) -> Floats:
    """Whether each time lies in a phase of that kind."""
    inside = np.zeros(len(time), dtype=bool)
    for phase in span.phases:
        if phase.kind == kind:
            inside |= (time >= phase.start_s) & (time <= phase.end_s)
    return inside


def _phase_series(kind: str, east: Floats, north: Floats, inside: Floats, apart: Floats, show: Display) -> Series:
    """The parts of the track in one kind of phase, up to the first fix after each, broken elsewhere."""
    drawn = inside | np.append(False, inside[:-1])
    breaks = np.flatnonzero(apart) + 1
    x = np.insert(np.where(drawn, east, np.nan), breaks, np.nan)
    y = np.insert(np.where(drawn, north, np.nan), breaks, np.nan)
    return Series(
        _converted(x, "distance", show), _converted(y, "distance", show), kind, words.PHASES.get(kind, kind)
    )


def _event_mark(debrief: Debrief, event: Event, kind: str, label: str, show: Display) -> Mark:
    """Take-off or landing on the track."""
    east, north = debrief.motion.plane.to_plane(event.lat_deg, event.lon_deg)
    return Mark(show.converted(float(east), "distance"), show.converted(float(north), "distance"), kind, label)


def plans_chart(debrief: Debrief, flight: Flight, show: Display) -> Chart | None:
    """The climbs that gained most, in their order, each as the drifting air saw it; None without any."""
    plans = climb_plans(debrief.motion, debrief.air, flight.climbs)
    highest = sorted(plans, key=lambda plan: -(plan.climb.gain_m or 0.0))[:MOST_PLANS]
    chosen = sorted(highest, key=lambda plan: plan.climb.number)
    if not chosen:
        return None
    reach = max(float(np.abs(side).max()) for plan in chosen for side in (plan.east_m, plan.north_m))
    panels = []
    for plan in chosen:
        climb, kinds = plan.climb, (("strong", "climbing faster than its mean"), ("weak", "slower"))
        label = f"climb {climb.number}: {show.with_unit(climb.gain_m, 'height')}"
        if climb.mean_climb_mps:
            label += f", {show.with_unit(climb.mean_climb_mps.value, 'vertical')}"
        series = []
        for kind, name in kinds:
            own = plan.is_strong == (kind == "strong")
            drawn = own | np.append(False, own[:-1])
            x, y = np.where(drawn, plan.east_m, np.nan), np.where(drawn, plan.north_m, np.nan)
            series.append(Series(_converted(x, "length", show), _converted(y, "length", show), kind, name))
        shown = 1.05 * show.converted(reach, "length")
        window = (-shown, shown, -shown, shown)
        panels.append(Panel(label, show.unit("length"), tuple(series), window=window, has_equal_scales=True))
    described = (
        f"Circles of {counted(len(chosen), 'climb')} from above, north up, moved back by the wind: as they lay in"
        " the air that drifts, all to one scale. Thick where the climb was faster than its own mean. A climb that"
        " wanders upwind was held against the drift. The figures stand in the table of climbs."
    )
    name = f"flight-{flight.number}-plans"
    return Chart(name, "Climbs without the wind's drift", described, "grid", tuple(panels), is_wide=True)


def wind_chart(flight: Flight, show: Display) -> Chart:
    """Speed and direction of the wind by height, bands with their 95 % intervals, single estimates behind."""
    wind = flight.wind
    levels = [
        show.converted((band.altitude_low_m + band.altitude_high_m) / 2.0, "height") for band in wind.profile
    ]
    speeds = tuple(
        Bar(
            show.converted(band.wind.speed_mps, "speed"),
            show.converted(NORMAL_95 * band.wind.se_mps, "speed"),
            level,
        )
        for band, level in zip(wind.profile, levels, strict=True)
    )
    directions = tuple(
        Bar(band.wind.from_deg, _direction_half_width(band.wind.speed_mps, band.wind.se_mps), level)
        for band, level in zip(wind.profile, levels, strict=True)
    )
    levelled = [(sample.wind, sample.altitude_m) for sample in wind.estimates if sample.altitude_m is not None]
    heights = tuple(show.converted(altitude_m, "height") for _, altitude_m in levelled)
    sample_speeds = tuple(show.converted(one.speed_mps, "speed") for one, _ in levelled)
    sample_directions = tuple(one.from_deg for one, _ in levelled)
    height = f"altitude ({show.unit('height')})"
    panels = (
        Panel(f"speed ({show.unit('speed')})", height, (Series(sample_speeds, heights, "dots"),), bars=speeds),
        Panel(
            "from (°)", height, (Series(sample_directions, heights, "dots"),), bars=directions, wraps_at_360=True
        ),
    )
    described = (
        "Speed and direction of the wind by height: one mark a band of height with its 95 % interval, dots for the"
        " single estimates. The bands stand in the table of the wind."
    )
    return Chart(f"flight-{flight.number}-wind", "Wind by height", described, "beside", panels)


def _direction_half_width(speed_mps: float, se_mps: float) -> float:
    """Half width of the 95 % interval of a wind's direction, degrees; at most 180.

    >>> round(_direction_half_width(5.0, 0.5), 1), _direction_half_width(0.5, 0.5)
    (11.3, 180.0)
    """
    off = NORMAL_95 * se_mps
    return math.degrees(math.asin(off / speed_mps)) if off < speed_mps else 180.0


def pass_chart(
    debrief: Debrief, flight_number: int, number: int, ground: Ground, passes: Iterable[PassSpan], show: Display
) -> Chart:
    """The passes at one place: height against distance, and from above."""
    here = [(count, one) for count, one in enumerate(passes, 1) if one.ground is ground]
    views = [_pass_views(debrief, one, count, show) for count, one in here]
    marks = [_decision_mark(debrief, one, count, show) for count, one in here]
    place = Mark(0.0, 0.0, "place", "place")
    length, name = show.unit("length"), ground.name or "the landing ground"
    side_view = Panel(
        f"distance to the place ({length})",
        f"height above it ({show.unit('height')})",
        tuple(side for side, _ in views),
        marks=(place, *(mark for mark in marks if mark is not None)),
    )
    from_above = Panel(
        f"east of the place ({length})",
        f"north ({length})",
        tuple(plan for _, plan in views),
        marks=(place,),
        has_equal_scales=True,
    )
    described = (
        f"Approaches to {name}: height above it against the distance to it, and the same from above. Landings are"
        " drawn solid, go-arounds dashed, low passes that may have been attempts dotted; a square marks where an"
        " approach was broken off. The figures stand in the table of passes."
    )
    return Chart(
        f"flight-{flight_number}-passes-{number}",
        f"Approaches to {name}",
        described,
        "beside",
        (side_view, from_above),
        is_wide=True,
    )


def _pass_views(debrief: Debrief, one: PassSpan, number: int, show: Display) -> tuple[Series, Series]:
    """A pass from the side and from above."""
    east, north, height = _from_ground(debrief, one)
    kind = one.outcome if one.certainty == "sure" else "possible"
    label = f"{number}: {words.OUTCOMES.get(one.outcome, one.outcome)}"
    label += "" if one.certainty == "sure" else ", possible"
    side = _converted(np.hypot(east, north), "length", show), _converted(height, "height", show)
    plan = _converted(east, "length", show), _converted(north, "length", show)
    return Series(*side, kind, label, str(number)), Series(*plan, kind, label, str(number))


def _from_ground(debrief: Debrief, one: PassSpan) -> tuple[Floats, Floats, Floats]:
    """East and north of the ground and height above it, from the start of a pass to a while after its end."""
    motion, ground = debrief.motion, one.ground
    until = one.end_s if one.outcome == "landed" else min(one.end_s + SHOWN_AFTER_S, one.free_until_s)
    first, last = np.searchsorted(motion.time_s, [one.start_s, until])
    shown = slice(first, last + 1)
    height = motion.altitude_m[shown] - ground.level_at(motion.time_s[shown])
    return motion.east_m[shown] - ground.east_m, motion.north_m[shown] - ground.north_m, height


def _decision_mark(debrief: Debrief, one: PassSpan, number: int, show: Display) -> Mark | None:
    """Where a pass was broken off, in the side view."""
    if one.decision_s is None:
        return None
    motion = debrief.motion
    at = min(int(np.searchsorted(motion.time_s, one.decision_s)), len(motion.time_s) - 1)
    distance = math.hypot(motion.east_m[at] - one.ground.east_m, motion.north_m[at] - one.ground.north_m)
    height = float(motion.altitude_m[at] - one.ground.level_at(motion.time_s[at : at + 1])[0])
    return Mark(show.converted(distance, "length"), show.converted(height, "height"), "decision", str(number))


def polar_chart(flight: Flight, show: Display) -> Chart:
    """The sink polar with its 95 % band, sink downward."""
    polar = flight.performance.polar
    assert polar is not None  # noqa: S101 (asked for only where there is one)
    speeds = _converted(np.array(polar.airspeed_mps), "speed", show)
    sink, least, most = (
        _converted(-np.array(values), "vertical", show)
        for values in (polar.sink_mps, polar.sink_low_mps, polar.sink_high_mps)
    )
    curves = (
        Series(speeds, least, "interval", "95 % interval", base=most),
        Series(speeds, sink, "line", "sink in still air"),
    )
    panel = Panel(f"airspeed ({show.unit('speed')})", f"vertical speed ({show.unit('vertical')})", curves)
    described = (
        "Vertical speed in still air against airspeed, with its 95 % interval; the values stand in the table."
    )
    return Chart(f"flight-{flight.number}-polar", "Sink polar", described, "one", (panel,))
