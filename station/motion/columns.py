"""What a frame leaves in the history: the columns of its row."""

from __future__ import annotations

from enum import IntEnum

from station.motion.live import CONSTANTS, STATES


class Column(IntEnum):
    """Columns of a frame's row in the history."""

    END_S = 0
    DURATION_S = 1
    DV = 2
    DS = 5
    UP = 8
    NOISE = 11
    REST = 12
    SAMPLE_STOP = 13
    LOST_S = 14
    CLIPPED = 15
    STILLNESS = 16
    TOP_SIGMA = 17
    BOTTOM_SIGMA = 18
    TURN = 19
    PLACE = 22
    PLACE_SPREAD = 25
    TILT_NOISE = 28
    BLIND = 29
    VERTICAL_NOISE = 30
    MISSING = 31
    FRAMES = 32  # of the usual length, up to its end: more than rows while the bar lay
    WANDER = 33
    MOVE = 34
    ON_HEIGHT = MOVE + STATES - CONSTANTS
    ON_VELOCITY = MOVE + 2 * STATES - CONSTANTS
    STATE = MOVE + 2 * STATES
    COVARIANCE = STATE + STATES
    WIDTH = COVARIANCE + STATES**2
