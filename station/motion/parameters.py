"""What the engine assumes about sensors and lifters: one frozen value, the same for every set.

No figure here is a setting for a user. Each says where it comes from: the design's definitions, data sheets of
general-purpose parts, or the spread of human movement.
"""

from __future__ import annotations

from dataclasses import dataclass

STANDARD_GRAVITY_M_S2 = 9.80665


@dataclass(frozen=True, slots=True)
class EngineParameters:
    """Assumptions of the motion engine.

    Attributes:
        frame_s: samples are taken together into frames of this length; decisions fall on frame ends.
        moving_m_s, slow_m_s: the bounds rule's two crossings.
        longest_extrapolation_s: of the straight line beyond the slow crossing.
        settled_s, come_down_m: a movement is final after this long at or below slow, or this far down.
        history_s: how far back a decision can look.
        acc_walk_m_s2_rthz: unexplained vertical acceleration as white noise (sensor noise, misalignment in motion).
        shock_share: share of a shock between two samples that their integral misses.
        bias_walk_m_s2_rts: wandering of each axis's bias, per root second.
        tilt_walk_rad_rts, tilt_turn: drift of the gyro's attitude per root second at a known bias, and per turn.
        tilt_walk_blind_rad_rts: the same without a gyro.
        drift_m_s: spread of horizontal velocity about zero over a second.
        stray_blind_m, drift_blind_m_s: the same where tilt has to be told from them without a gyro.
        stray_m, wander_m: spread of the bar's place about its mean over a second, horizontally and vertically.
        lost_wander_m: the same vertically from a hole in the samples to the next rest: how fast the bar moves is then
            not known, and that it stays about where it is says more.
        first_bias_m_s2: spread of each axis's bias before anything is known.
        first_offset_m_s2: spread of what scale and local gravity leave upward.
        scale_sd: spread of the error of scale along any direction, as a share: of every velocity alike. 0.4 % on each
            axis and 0.3 degrees between them make 0.45 %.
        sure_share, bias_share: shares of the smoother's own half-width that simulated errors fill, of what
            rests and returns leave open and of what the sensor's bias makes; its assumptions are wider than a
            calibrated sensor's errors, so that a worse one is not believed too much.
        blind_share, lost_share: of either, without a gyro, and where samples were lost.
        bounds_share: how far off a movement's bounds are, as a share of the time between samples.
        steep_share: share of the smoother's spread with which bounds are doubted.
        steep_m_s, steep_lost_m_s: a rep whose mean velocity, bounds included, spreads by more than this waits for the
            next rest or return to settle it; the latter where samples were lost: waiting then settles less.
        hardly_known_share: so does one whose half-width exceeds this share of its mean velocity.
        off_axis_m: spread of the sensor's place off the bar's axis, per axis: 2 to 4 cm in any direction.
        rest_window_s: how long stillness must last to be believed.
        hard_acc_m_s2, hard_gyr_rad_s: spread below which nobody is holding the bar.
        soft_acc_m_s2, soft_gyr_rad_s: spread below which a held bar may be at rest.
        hover_acc_m_s2, hover_gyr_rad_s: spread below which a hand may hover about one place.
        soft_rest_spacing_s, hover_spacing_s: a look sooner than this after the last says nothing new.
        rest_mean_acc_m_s2: mean vertical acceleration of a bar at rest stays within this.
        rest_speed_m_s: what is predicted to be faster than this, beyond doubt, is not taken for resting.
        top_rest_spreads: beyond doubt, for a held bar that has risen as far as it does: so many spreads of the
            prediction. Elsewhere two are.
        alone_rest_s, held_rest_s: stillness that has lasted so long is rest, whatever was predicted.
        gained_share: a held bar's rest is doubted by this share of the velocity it gained within the window. Where
            the lift is known, that says when a bar may rest; of any other movement this tells a hold from the slow
            middle of a pull or of a putting down.
        stuck_s: a bar this long still half-way up is stuck; before that it may be grinding.
        hard_rest_speed_m_s, soft_rest_speed_m_s: spread of true velocity at rest on the rack, and in calm hands.
        reset_gap_s: a hole longer than this ends what was going on.
        set_pause_s: a set without a rep for this long is over.
    """

    frame_s: float = 0.04
    moving_m_s: float = 0.08
    slow_m_s: float = 0.04
    longest_extrapolation_s: float = 0.10
    settled_s: float = 0.25
    come_down_m: float = 0.02
    history_s: float = 14.0
    acc_walk_m_s2_rthz: float = 0.005
    shock_share: float = 0.2
    bias_walk_m_s2_rts: float = 0.001
    tilt_walk_rad_rts: float = 0.002
    tilt_turn: float = 0.01
    tilt_walk_blind_rad_rts: float = 0.18
    stray_m: float = 0.5
    drift_m_s: float = 1.0
    stray_blind_m: float = 0.05
    drift_blind_m_s: float = 0.2
    first_bias_m_s2: float = 0.15
    first_offset_m_s2: float = 0.06
    scale_sd: float = 0.0045
    sure_share: float = 0.3
    bias_share: float = 0.65
    blind_share: float = 0.68
    lost_share: float = 0.9
    bounds_share: float = 0.3
    steep_share: float = 0.7
    steep_m_s: float = 0.05
    steep_lost_m_s: float = 0.065
    hardly_known_share: float = 0.14
    off_axis_m: float = 0.017
    rest_window_s: float = 0.2
    hard_acc_m_s2: float = 0.12
    hard_gyr_rad_s: float = 0.006
    soft_acc_m_s2: float = 0.35
    soft_gyr_rad_s: float = 0.15
    hover_acc_m_s2: float = 0.9
    hover_gyr_rad_s: float = 0.5
    wander_m: float = 0.7
    lost_wander_m: float = 0.4
    soft_rest_spacing_s: float = 0.25
    hover_spacing_s: float = 0.6
    rest_mean_acc_m_s2: float = 0.25
    rest_speed_m_s: float = 0.02
    top_rest_spreads: float = 2.0
    alone_rest_s: float = 0.6
    held_rest_s: float = 2.5
    gained_share: float = 0.0
    stuck_s: float = 1.5
    hard_rest_speed_m_s: float = 0.001
    soft_rest_speed_m_s: float = 0.010
    reset_gap_s: float = 0.5
    set_pause_s: float = 30.0


# Nothing is known of the sensor: data sheets of general-purpose parts give zero-g offsets of 20 to 80 mg and scale
# errors of up to 3 %: uniform ones have a spread of 1.7 %, 3 % on every axis one of 2.3 % along any direction.
# The prior for the bias is a compromise: a wider one serves the worst parts and costs the good ones accuracy.
# Waiting settles little of what an unknown bias leaves open, but for a bar whose stand at the top was not believed.
# Its speed drifts by tenths of m/s within a rep, at times by more than the spread of the prediction says: how still
# a held bar is tells more than the prediction does.
UNCALIBRATED_PARAMETERS = EngineParameters(
    first_bias_m_s2=0.3,
    first_offset_m_s2=0.1,
    scale_sd=0.019,
    bounds_share=0.4,
    sure_share=1.15,
    bias_share=1.15,
    blind_share=1.15,
    lost_share=1.4,
    steep_share=1.15,
    steep_m_s=0.1,
    steep_lost_m_s=0.1,
    hardly_known_share=0.3,
    top_rest_spreads=4.0,
    held_rest_s=0.5,
)
# Told no lift, simulated grinding sets end half-way up more often with half of this, and no less often with more.
UNKNOWN_LIFT_GAINED_SHARE = 2.0

# Somebody who stands for 1.5 s stands; a bar may grind upwards for longer than that.
BELT_PARAMETERS = EngineParameters(held_rest_s=1.5, rest_speed_m_s=0.10, first_bias_m_s2=0.2)
