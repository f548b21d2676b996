"""Every threshold of the analysis: named, with unit, value and source.

`M n` stands for section n of the table of methods in DEVELOPERS.md; a threshold marked `truth` is guarded by a
truth test that fails when it is moved.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from flightlog.errors import SettingsError


@dataclass(frozen=True)
class Settings:
    """All thresholds. Change one with `dataclasses.replace`; reports print the ones they used."""

    wing_class: str = "unknown"  # paraglider | hang_glider | rigid_wing | sailplane | unknown

    # --- motion: gaps, spikes, smoothing
    longest_bridge_s: float = 15.0  # a longer silence of the recorder is a gap, never bridged (M 1)
    longest_bridge_intervals: float = 2.5  # but a slow recorder may miss a fix: gap only beyond so many intervals
    longest_slow_bridge_s: float = 150.0  # however slow: a whole circuit fits into more
    longest_recording_s: float = 14 * 86400.0  # more, silences left out, is no flying: a tracker on a shelf
    fewest_fixes: int = 10  # less is no track: nothing could be told from it
    closest_fixes_s: float = 0.09  # recorders write at most 10 fixes a second; closer ones are repeats
    spike_slack_m: float = 4.8  # five times the short-term noise of a rounded position (M 1)
    height_spike_slack_m: float = 3.0  # M 1
    spike_curvature_mps2: float = 4.5  # half of 9 m/s2: a steep turn at 45 degrees of bank, with noise (M 1: 3)
    fastest_travel_mps: float = 90.0  # faster jumps are not travel: cars reach 50, wings over ground 35 m/s
    fastest_height_mps: float = 45.0  # a deep spiral sinks at 20-25 m/s
    longest_jump_s: float = 60.0  # a block elsewhere that lasts longer is believed to be a real change of place
    position_noise_m: float = 0.7  # short-term GNSS noise, one axis, before rounding (M 1)
    gnss_height_noise_m: float = 1.3  # short-term GNSS noise of heights (M 1: 1.4 m with rounding)
    pressure_noise_low_m: float = 0.3  # sensor noise found in the log is believed between these two (M 1)
    pressure_noise_high_m: float = 1.0
    jerk_density_m2ps5: float = 1.0  # q of a turning wing: jerk 1.4 m/s3 for about 1 s (M 1)
    turning_jerk_share: float = 2.0  # of the jerk density a^3 / (2 V) of a steady turn, added in turns
    climb_density_m2ps3: float = 0.1  # vertical gusts of 0.5 m/s over 5-6 s (M 1)
    turning_climb_density_m2ps3: float = 0.3  # in circles: in and out of the core once a turn
    altitude_scale_prior_sd: float = 0.02  # warm or cold air: 1 % of height for every 3 K, days differ by 6 K
    altitude_drift_prior_mps: float = 5.0 / 3600.0  # air pressure changes by about 0.6 hPa an hour
    altitude_drift_from_s: float = 7200.0  # a shorter log does not show it (M 1)

    # --- motion: ground, air, vehicle (M 2)
    shortest_boarding_s: float = 60.0  # on foot between flying and driving: a wing is packed in minutes
    quickest_boarding_s: float = 28.0  # from harness into a moving car; shorter stops are traffic lights
    longest_drive_as_flight_s: float = 600.0  # a steep road looks like a flight for minutes, not longer
    least_stop_s: float = 2.0  # who lands stands at least so long before walking back to launch
    stop_standing_share: float = 0.05  # of a stop with a walk back to launch and laying out the wing
    long_stand_s: float = 20.0  # a wing never hangs still for so long, but for single gusts
    long_stand_share: float = 0.75  # of these seconds
    stop_evidence: float = 9.0  # logarithm of the likelihood ratio of ground to flight over the stop
    stop_descent_s: float = 20.0  # the final before a landing
    stop_descent_mps: float = 0.25  # its mean sink: landing in lift on top 0.3 to 0.5, elsewhere 1
    stop_climb_mps: float = 0.4  # on foot the smoothed climb stays below this (M 2: 0.35)
    stop_grade: float = 0.4  # and this share of the speed
    stop_steep_share: float = 0.25  # but for a part of the time: the last and first seconds of the two flights
    longest_walk_off_s: float = 180.0  # slow flight taken for a walk off: longer is a walk
    least_walk_off_mps: float = 0.2  # sinking into a strong wind 0.4 and more, seldom rising
    least_walk_up_mps: float = 0.5  # on foot nobody rises or falls so fast for long: 1800 m an hour
    least_walk_off_height_m: float = 5.0  # height changed by then; a pilot stops within a few steps
    least_ride_climb_mps: float = 0.7  # cable cars and chair lifts climb at 1 to 4 m/s
    largest_ride_spread_mps: float = 0.16  # and evenly (M 2: 0.15)

    # --- motion: circles (M 3)
    circling_rate_degps: float = 22.0  # g tan(bank) / airspeed at 20-25 degrees of bank: 16 s a circle
    circling_rate_sd_degps: float = 9.0  # covers circles of 12 to 30 s
    wide_circle_least_degps: float = 5.0  # 10 degrees of bank at 13 m/s turn 7.6, round in 47 s (TRN-11)
    wide_circle_window_s: float = 20.0  # mean over so long: straight flight wanders within 5 s
    wide_circle_turn_deg: float = 540.0  # a pattern for landing turns 270 at most, a circle of search 360
    turn_rate_correlation_s: float = 2.5  # turn rates nearer in time than this tell the same
    turning_leave_s: float = 80.0  # mean stay in straight flight or in one turn
    least_turn_deg: float = 330.0  # nearly a full circle; less is a bend
    shortest_turning_s: float = 12.0  # tightest circles in lift take 12 s; faster ones are spirals

    # --- air: what the class of wing lets us expect before any data
    trim_airspeed_mps: float = 11.0  # equivalent airspeed in straight flight; middle of foot-launched wings
    trim_airspeed_sd_mps: float = 2.0
    straight_to_circling_airspeed: float = 1.08  # glides: 0.95-1.25 of the speed circled at (M 4: 1.06)
    learned_airspeed_sd_share: float = 0.13  # spread of gliding speed about that of this flight's circles (trade)
    slowest_airspeed_mps: float = 5.0  # a wing stalls at 6 and more; a circle on foot is slower
    fastest_airspeed_mps: float = 30.0  # a rigid wing thermalling at 3 000 m flies 17

    # --- air: chords and wind windows
    chord_baseline_s: float = 3.5  # shorter: noise; longer: too much of a circle (M 4)
    longest_chord_s: float = 6.5  # a 13 s circle must give two chords and more; slower recorders give no wind
    slow_recorder_s: float = 2.5  # from here on smoothing cuts circles of 15 s short (M 1)
    densest_chords_s: float = 1.0  # faster recorders are thinned: no new information within a second
    turn_slope_half_width_s: float = 2.0  # turn rate of a chord is drawn from so long before and after (truth)
    uneven_turn_share: float = 0.02  # wind error from uneven bank, share of airspeed at one radian (truth)
    fastest_turn_degps: float = 43.0  # 0.75 rad/s, 40 degrees of bank at 10 m/s (M 4)
    wind_window_s: float = 45.0  # three circles; shorter windows feel single gusts (M 4: 30-60 s)
    wind_window_least_s: float = 12.0  # one circle of a tight turn
    wind_window_turn_deg: float = 150.0  # less turning does not tell the wind (M 4)
    wind_search_turn_deg: float = 270.0  # windows taken before any circle is known must turn more
    wind_window_sd_limit_mps: float = 1.5  # a less sure window adds nothing to the field (M 4: 1.2; truth at 5 s)
    gust_correlation_s: float = 2.0  # airspeed about its mean round a circle: chords apart are independent (truth)
    wind_gust_mean_sd_mps: float = 0.45  # a circling wing stays in one eddy: its mean over a window (truth, M 4)
    straight_gust_mean_sd_mps: float = 0.15  # straight flight crosses an eddy of 150 m in 15 s
    wind_residual_floor_mps: float = 0.3  # airspeed is never steadier in the real air (M 4)
    straight_window_s: float = 240.0  # two beats along a ridge, or a figure of eight and more
    straight_window_least_s: float = 60.0
    straight_chord_step_s: float = 2.5  # chords closer than a chord is long add little to a long window
    straight_gust_correlation_s: float = 15.0  # straight flight: speed is kept for a leg, not for a gust (truth)
    straight_leg_airspeed_sd_mps: float = 1.0  # how far the speeds of a pilot's legs lie from each other (trade)
    straight_airspeed_spread_mps: float = 0.9  # of one window's airspeed about the flight's (truth)
    straight_arc_deg: float = 120.0  # headings flown must span so much (M 4)
    straight_headings: float = 5.0  # or so many steps of 30 degrees (M 4)
    straight_wind_sd_limit_mps: float = 1.6

    # --- air: the wind field
    wind_prior_sd_mps: float = 6.0  # of one component of the day's mean wind: 0-10 m/s is flyable
    wind_change_sd_mps: float = 2.0  # how far wind strays from the day's mean; each flight tells its own (M 4)
    wind_change_time_s: float = 5400.0  # within so long (M 4)
    wind_change_height_m: float = 1500.0  # and so much height (M 4)
    wind_local_sd_mps: float = 0.6  # how far it differs from slope to slope; 1.2 on one mountain day (real logs)
    wind_local_time_s: float = 600.0  # a pilot is at another thermal after so long (three real logs)
    wind_sd_limit_mps: float = 1.8  # wind less sure than this, per component, is not stated
    wind_error_time_s: float = 115.0  # errors of one climb's wind are alike so long: slow gusts (two simulators)
    wind_least_sd_mps: float = 0.2  # of a whole climb: a pilot who speeds up upwind shifts it by so much (M 4)
    wind_common_sd_mps: float = 0.13  # of any mean: what is done once in every circle shifts all alike (truth)
    wind_node_s: float = 60.0  # the field is computed so densely along the path, then interpolated

    # --- phases: flights of a log
    most_flights: int = 200  # of one log: a training day has 40; bounds the time a made-up log can cost
    shortest_flight_s: float = 12.0  # kiting hops last a few seconds; a training-hill flight 15 s and more (trade)
    least_flight_distance_m: float = 40.0  # a hop while ground handling covers less
    least_flight_height_m: float = 6.0  # kiting lifts 1-3 m; pressure heights wander 1 m within minutes
    back_again_s: float = 30.0  # out over least_flight_distance_m, round and back to the spot takes a wing longer
    back_again_m: float = 15.0  # so near to where it started
    gnss_altitude_wander_m: float = 6.0  # height change that GNSS altitude alone feigns (M 1: 5.8 m raw)
    fastest_walk_mps: float = 3.0  # walking 1.4, downhill with a wing on the back up to 2.5
    least_climb_spread_mps: float = 0.35  # air shakes the wing (0.45 m/s), feet do not (0.13 m/s) (M 2)
    carrier_least_s: float = 120.0  # shorter stretches turn too little to tell a wing from a car
    carrier_change_s: float = 60.0  # laying out or packing a wing takes minutes, stops in traffic less
    carrier_longest_interval_s: float = 6.0  # beyond, speeds in circles of 15-20 s are blurred by 3 m/s and more
    flight_spread_mps: float = 2.3  # spread of airspeed about its best value: flights 0.8-2.2 at 1-5 s
    drive_spread_mps: float = 2.8  # drives 2.3-5 (simulated)
    blurred_drive_spread_mps: float = 3.2  # wings at 5 s reach 3.0; drives without a stop 3.3-4
    stopping_spread_mps: float = 1.5  # drives up a mountain 1.6-2.7; wings in one place seldom more than 1.4
    traffic_stop_share: float = 0.015  # of a drive: 2 to 12 %; of 99 flights in 100 less than 1 %
    sure_traffic_stop_share: float = 0.06  # whatever the speeds: to and from 14 m/s fits 7 m/s of wind and of air
    soaring_wandering: float = 8.0  # way by width of the country: drives 1-3, minutes of beats along a ridge 10-30
    road_loose_share: float = 0.2  # of a drive up hairpins; soaring and circling flights 0.1-0.5
    short_stop_s: float = 30.0  # a shorter stop between two flights may be a touch and go (M 2)
    longest_silence_in_flight_s: float = 600.0  # longer: the pilot may have landed and started again (IGC: 5 min)
    longest_event_gap_s: float = 120.0  # silent for longer at take-off or landing: that event is not in the log
    hover_longest_s: float = 150.0  # parked into the wind so long is rare; a relaunch takes 2 min and more (trade)
    hover_height_m: float = 3.5  # who stands keeps his height: pressure wanders by 1 m within minutes
    hover_slope: float = 0.5  # launch slopes are 20-30 degrees: steeper ground is nothing to stand on
    hover_above_m: float = 4.0  # higher than this over ground stood on, allowing for the slope, is in the air
    hover_beside_m: float = 60.0  # ground so near tells how high the ground is
    hover_drift_m_per_hour: float = 4.0  # weather moves pressure by 1 hPa in two hours on most flyable days
    ride_grade: float = 0.13  # roads a car takes are seldom steeper (trade); a wing in lift or wind exceeds it
    ride_steep_share: float = 0.02  # of a drive: heights wander; flights of minutes 0.01 to 0.6
    ride_wandering: float = 4.0  # way by distance gone: drives 1-3, soaring back and forth 5 and more
    ride_misfit_mps: float = 2.3  # drives 2.4 and more, flights that go somewhere 1-2 (truth)
    ride_slow_share: float = (
        0.7  # of the usual airspeed: wings stall there (trade), flights seldom keep under 0.85
    )
    ride_pace_mps2: float = 0.75  # flights that miss so much 0.3-0.6, mountain drives 0.9-1.4 (two simulators)
    ride_sure_misfit_mps: float = (
        5.0  # flights that stay in one place, few headings flown, up to 3.8; smooth drives in wind more (truth)
    )
    ride_uphill_m: float = 60.0  # roads to launches rise by 100 m and more (trade)
    ride_dip_m: float = 12.0  # of such a road; who soars up to a top landing comes down on it from 30 m and more
    ride_straight: float = 1.05  # way by distance of a rope; no wing climbs so straight from take-off to landing
    ride_rope_grade: float = 0.1  # lifts rise by 0.2 to 1 of their way (trade); landing so much higher is rare
    ride_fast_mps: float = 20.0  # mean over the ground: wings reach it with 9 m/s of wind behind them all the way
    ride_level_grade: float = 0.03  # rails and main roads; a wing sinks by 0.05 of its way or more, or climbs
    shortest_airspeed_record_s: float = 60.0  # straight flight needed before the log's own airspeed counts
    usual_airspeed_sd_mps: float = 0.8  # pilots fly between least sink and trim, about 1.5 m/s apart
    longest_run_s: float = 20.0  # a launch run lasts 2-10 s; the chain's start errs by a few seconds
    launch_wind_from_s: float = 60.0  # wind of so long after lift-off (before touchdown) stands for the ground's
    liftoff_speed_share: float = 0.80  # lift-off airspeed over trim airspeed (M 2)
    touchdown_speed_share: float = 0.60  # below it a flared wing has given up: stall is about 0.65-0.7 of trim
    liftoff_smear_s: float = 1.0  # smoothed speeds still hold some of the run so long after lift-off (truth)
    touchdown_smear_s: float = 0.7  # and some of the standing before touchdown (truth)
    touchdown_smear_intervals: float = 0.35  # and so many intervals between fixes before that
    run_speed_mps: float = 1.0  # first step of the run (M 2)
    fastest_run_mps: float = 9.5  # over the ground at lift-off: nobody runs faster in a harness (sprinters 10-12)

    # --- phases: pieces of ground without a places file
    ground_radius_m: float = 100.0  # a launch meadow is 30-100 m long; GNSS is good to 3 m
    ground_level_m: float = 15.0  # a slope meadow within 100 m; pressure drifts 8 m/h at 1 hPa/h
    same_spot_m: float = 25.0  # a take-off this near a touchdown stands on the same piece of meadow
    same_spot_level_m: float = 3.0  # and at its height: farther off it is slope, nearer it may be pressure drift
    top_landing_reach_m: float = 500.0  # a top-landing field lies behind or beside its launch
    top_landing_miss_m: float = 200.0  # a top landing so far beyond the place's radius was meant for it
    top_landing_level_m: float = 40.0  # and at about its height: a landing farther down is a slope or valley one
    place_level_m: float = 40.0  # a touch farther off the elevation of a place is not there: frames differ by 10 m

    # --- phases: passes at a top-landing ground
    pass_reach_m: float = 160.0  # low point this near: paraglider 100, hang glider 160 (M 7)
    pass_ceiling_m: float = 45.0  # higher, nothing tells an approach from soaring past (M 7)
    pass_sure_below_m: float = 35.0  # base leg and final begin at 20-35 m (trade): given up higher, none was flown
    pass_below_m: float = 8.0  # lower than its ground nobody lands there; heights above it err by 1 m, slopes by 5
    pass_prominence_m: float = 4.0  # a bottom less marked is a gust (M 7)
    pass_longest_s: float = 60.0  # an approach starts at the highest point of the minute before (published rule)
    pass_apart_s: float = 14.0  # lowest points nearer in time are one pass: no wing gets round sooner (M 7)
    pass_regain_share: float = 0.35  # of the height at the low point: less regained is working off height in turns
    pass_least_regain_m: float = 3.0  # less regained is no climb away: heights wander by 1 m, gusts lift by 1-4
    pass_break_s: float = 8.0  # sink before and after a low point: longer than a gust, shorter than a final
    pass_break_mps: float = 0.7  # a descent goes on with the same sink within 0.5 m/s; lift or speed ends it
    attempt_descent_s: float = 15.0  # stretch before the low point that shows descent and heading (M 7)
    attempt_final_s: float = 4.0  # steady on final at least so long
    attempt_slide_s: float = 12.0  # within the last so many: finals of foot-launched wings last 9-20 s
    attempt_top_s: float = 120.0  # an approach with its circuit or eights takes one to two minutes from the band
    attempt_near_m: float = 60.0  # base legs lie 30-60 m aside of the landing point (paraglider) or 50-90 (trade)
    attempt_turn_out_s: float = 10.0  # who gives up turns out at once: the lift is seldom farther than this
    attempt_rise_s: float = 20.0  # turning out and flying to the lift takes 5-20 s from the decision
    attempt_sure_log_odds: float = 0.0  # more likely an attempt than not: counts come out right on average (truth)
    attempt_possible_log_odds: float = -2.5  # one in thirteen: fewer attempts are missed than fly-pasts listed
    attempt_launch_log_odds: float = (
        -2.0
    )  # at a launch beside ground landed on: beats pass over it all day (truth)
    decision_before_s: float = 16.0  # flying on from the landing ground to the lift in front of it takes so long
    decision_search_s: float = 20.0  # turning out and flying to the lift takes 5-20 s from the decision (truth)
    decision_window_s: float = 5.0  # means on both sides of a change: long against gusts, short against a turn
    regain_within_s: float = (
        180.0  # height regained after a go-around: the lift band is reached within a minute or two
    )

    # --- measures: the launch
    sink_after_liftoff_s: float = 10.0  # a glider launched too slow sinks at once and flies within seconds (trade)
    aborted_search_s: float = 1200.0  # waiting for a cycle seldom takes longer
    aborted_near_m: float = 50.0  # a launch meadow; the walk up to it is farther off
    aborted_margin_s: float = 3.0  # the launch run itself, and the last landing's steps, are none
    aborted_least_mps: float = 2.0  # handling a wing moves at 0.5-1.5 m/s; smoothed, a run to 4 m/s shows 2.5
    aborted_least_mps2: float = 0.9  # twice top speed by duration: steps while handling show 0.5-0.8 (simulated)
    aborted_still_mps: float = 0.7  # standing, as smoothed
    aborted_least_m: float = 3.0  # three steps
    aborted_aside_deg: float = 35.0  # a run points where the launch run does, give or take a turn of the wind
    aborted_longest_interval_s: float = 2.5  # a run lasts 3-5 s: farther apart, fixes do not show it

    # --- measures: the landing approach (no published limits for foot-launched wings: shown with each report)
    pattern_height_m: float = 100.0  # circuits start lower: 150-200 m abeam, sailplanes; 50-100 m, foot-launched
    pattern_final_deg: float = 35.0  # track this near the final course is on final; crabs and gusts stay below 30
    pattern_swing_deg: float = 30.0  # smaller swings of heading are corrections
    pattern_turn_deg: float = 80.0  # a turn of an eight on base, from one side to the other, is 90-180, less gusts
    pattern_look_s: float = 90.0  # downwind, base and final take 40-90 s
    pattern_straight_s: float = 40.0  # the last 300-400 m; a final out of a circuit lasts 10-25 s (trade)
    pattern_straight_deg: float = 60.0  # turned in all, gusts and corrections included
    pattern_circuit_deg: float = 120.0  # downwind to final is 180, from a base leg askew 120
    pattern_circuit_s: float = 50.0  # from the end of the downwind leg to touchdown (trade: 20-45)
    pattern_downwind_deg: float = 150.0  # a downwind leg heads 180 off the final; eights overshoot to 140
    pattern_circle_deg: float = 330.0  # more is circling down, which is taught nowhere near the ground
    low_turn_below_m: float = 15.0  # a wing of 10 m span banked 30 degrees reaches 2.5 m down; level by 10-20 m
    low_turn_least_deg: float = 45.0  # less is a correction for drift, not a turn
    unsteady_below_m: float = 20.0  # the last 10-20 s; wings level by then (stabilised approach, scaled down)
    unsteady_sink_mps: float = 3.0  # more than 1000 ft/min is unstable for airliners; a foot wing sinks 1-2 m/s
    unsteady_turn_deg: float = 60.0  # only small changes of heading (stabilised approach)
    unsteady_final_s: float = 5.0  # less leaves no time to see the drift and to slow down
    unsteady_speed_mps: float = 2.0  # standard deviation; speed held within 20 kt from 140 (1/7), scaled to 10 m/s

    # --- phases: labels
    phase_least_s: float = 12.0  # a shorter glide or search is part of what lies beside it (trade: readable)
    thermal_break_s: float = 45.0  # re-centring takes 5-30 s; a search for the next thermal longer
    thermal_break_m: float = 250.0  # through the air: a thermal's core is 40-150 m in radius (M 5)
    thermal_break_loss_m: float = 40.0  # re-centring through sink costs 10-30 m
    rolling_in_degps: float = 5.0  # rolling into a circle; straight flight wanders by as much (M 3)
    rolling_out_degps: float = 10.0  # rolling out of one, more slowly: below half the rate of a steady one (truth)
    rolling_s: float = 5.0  # steps of the recording longer than this do not show it
    circling_trim_s: float = 30.0  # losing circles so long before the bottom or after the top are no climb
    climb_least_gain_m: float = 2.0  # pressure heights are good to 0.5 m, GNSS ones to 3 m
    climb_least_mps: float = 0.03  # a circling run that gains less is search
    climb_least_turns: float = 1.0  # fewer are no circling: an eight or a beat turns 180-300 degrees at its end
    climb_sure_turns: float = 2.0  # fewer are a climb only where they rise as straight climbs must (M 9)
    straight_climb_mps: float = 0.3  # rising straight on (M 3)
    straight_climb_s: float = 15.0  # for so long (M 3)
    thermal_entry_s: float = 20.0  # rising straight flight beside circles, shorter than this, is their way in
    ridge_least_mps: float = -0.3  # mean climb of held height: still air would sink the wing at 0.7-1.2
    ridge_net_share: float = 0.4  # net way over the ground by way flown: a glide into wind has 0.4 and more
    ridge_turned_share: float = 0.7  # net way by way flown over the ground: beats turn back, glides do not
    ridge_width_share: float = 0.45  # beats: strip of 50-100 m by 300 m and more; a search is as wide as long
    ridge_patch_m: float = 60.0  # parked into the wind: rms of the patch of ground covered
    ridge_least_s: float = 60.0  # one beat to and one fro
    ridge_end_loss_m: float = 10.0  # beyond ridge_least_mps: 15 s of still air; gusts and turns cost 3-6 m
    ridge_part_s: float = 30.0  # or one beat of such soaring, before or after a descent
    ridge_sink_loss_m: float = 40.0  # likewise within: a minute of still air; a beat through sink costs 10-30 m
    ridge_held_loss_m: float = 10.0  # height held: wandering of soaring at one level
    leg_turn_deg: float = 35.0  # a clear turn; gusts and correcting for drift stay below
    glide_leg_s: float = 35.0  # a straight leg so long goes somewhere
    search_straightness: float = 0.75  # net by flown way, the less straight frame (M 9: 0.7, air frame; truth)
    search_window_s: float = 120.0  # over so long (M 9)
    search_pause_s: float = 50.0  # straight flight between two searches, shorter than this, is one of its legs
    search_least_s: float = 20.0  # one turn within a glide, shorter than this, is no search
    approach_radius_m: float = 400.0  # circuits and eights stay within 200-400 m of the landing point (trade)
    approach_circuit_m: float = 500.0  # long downwind legs, and eights before a long final, reach 300-500 m
    approach_height_m: float = 100.0  # landing circuits begin at 50-100 m above ground (trade)
    approach_final_height_m: float = 50.0  # circuits begin no lower (trade): below, flying straight is final
    approach_final_detour: float = 1.15  # way by distance of a straight final: weaving by 30 degrees makes 1.15
    approach_level_m: float = 3.0  # level flight wanders by so much
    approach_regain_m: float = 6.0  # a rise so high ends one descent and begins another; gusts lift 1-4 m
    approach_least_s: float = 15.0  # flare and final: nobody lands without
    approach_longest_s: float = 240.0  # from 150 m at 0.8 m/s of sink it takes 190 s

    # --- measures: climbs, glides, wind, polar
    core_least_turns: float = 2.0  # fewer circles do not tell a core
    core_longest_interval_s: float = 6.0  # fixes farther apart: two or fewer to a circle
    core_least_s: float = 35.0  # of climb
    core_entry_s: float = 15.0  # way in before the first circle: without it the width is not told (M 5)
    core_window_s: float = 105.0  # M 5
    core_place_sd_m: float = 35.0  # a core less well placed is not given (M 5)
    core_least_radius_m: float = 35.0  # and none narrower
    core_greatest_radius_m: float = 220.0  # nor wider than thermals are (M 5)
    thermal_source_radius_m: float = 1000.0  # a source less well placed says nothing: thermals are 1-2 km apart
    thermal_trace_radius_m: float = (
        3000.0  # up to here many traces together still tell (tests/truth/test_season.py)
    )
    glide_least_loss_m: float = 20.0  # less height lost gives no ratio: GNSS altitude alone wanders by 4 m
    glide_least_sink_mps: float = 0.15  # below it the ratio only says "far": 10 m/s make more than 60
    glide_settling_s: float = 6.0  # of each end of a glide: speeding up, entering lift
    glide_crossing_s: float = 40.0  # lift flown straight through in less is part of the glide
    glide_greatest_bank_deg: float = 12.0  # more is a turn, which sinks faster (M 6)
    glide_least_airspeed_mps: float = 5.0  # no wing flies slower: such a block has a wrong wind
    wind_band_m: float = 250.0  # height of a band of the wind profile
    wind_band_sd_limit_mps: float = 0.7  # per component: +-1.4 m/s; less sure, it tells no height from another

    # --- distances over turnpoints
    distance_closing_share: float = 0.05  # gap of start and finish of a closed course (common practice, no source)
    distance_fai_leg_share: float = 0.28  # shortest leg of an FAI triangle (FAI Sporting Code 7D, from memory)
    distance_slack_m: float = 0.02  # what is longer by less is not searched for: fixes are good to 3 m
    distance_time_limit_s: float = 20.0  # all figures of a flight; ordinary ones take 0.3 s


UNKNOWN_WING = Settings()
"""Any foot-launched wing: wide expectations, used when no wing is named."""
PARAGLIDER = Settings(wing_class="paraglider", trim_airspeed_mps=10.2, trim_airspeed_sd_mps=1.0)
"""A paraglider: trim about 37 km/h (trade knowledge, no source)."""
HANG_GLIDER = Settings(wing_class="hang_glider", trim_airspeed_mps=11.5, trim_airspeed_sd_mps=1.5)
"""A flex-wing hang glider."""
RIGID_WING = Settings(wing_class="rigid_wing", trim_airspeed_mps=12.5, trim_airspeed_sd_mps=1.5)
"""A foot-launched rigid wing."""


def settings_for(wing_class: str) -> Settings:
    """Settings of a class of wing; of any foot-launched wing where the class is `unknown`.

    Raises
    ------
    SettingsError
        A class that is not among `paraglider`, `hang_glider`, `rigid_wing`, `sailplane` and `unknown`.

    >>> settings_for("paraglider").wing_class
    'paraglider'
    """
    for settings in (UNKNOWN_WING, PARAGLIDER, HANG_GLIDER, RIGID_WING):
        if settings.wing_class == wing_class:
            return settings
    if wing_class == "sailplane":
        return replace(RIGID_WING, wing_class="sailplane", trim_airspeed_mps=22.0, trim_airspeed_sd_mps=4.0)
    raise SettingsError(
        f"wing class {wing_class!r} is not known",
        "use paraglider, hang_glider, rigid_wing, sailplane or unknown",
    )
