"""What a sensor's rests can tell: which face it lies on, between which it leans, and what is still missing.

A rest gives one equation: the size of the corrected force is gravity. Six faces give bias and scale; a cross-axis
term shows only where both its axes feel gravity. How much a rest's error grows in each unknown says whether the rests
tell it. Three leans would do for that; the same three turned over are what checks every other rest, for twelve
equations with nine unknowns contradict one another as soon as one is wrong.
"""

from __future__ import annotations

import numpy as np

from drivers.samples import FloatArray

FACES = ("+x", "-x", "+y", "-y", "+z", "-z")
PAIRS = ("x/y", "x/z", "y/z")
TURNED = " turned over"
LEANS = tuple(pair + turned for pair in PAIRS for turned in ("", TURNED))
UNKNOWNS = 9  # three biases, three scales, three cross-axis terms
_FACE_SHARE = 0.94  # of gravity along an axis, within 20 degrees: the sensor lies on that face
_SAME_LEAN = 0.9  # cosine of 25 degrees
_OPPOSITE = 0.7  # cosine of 45 degrees
_CORNER_SHARE = 0.4  # of gravity along the weakest axis: it leans on a corner, between three faces
_LARGEST_GROWTH = (
    2.5  # of a rest's error, as a share of gravity; square faces and leans of 45 degrees: 0.7 and 1.3
)


def face_of(mean_acc_m_s2: FloatArray) -> str | None:
    """Which face the sensor lies on ("+x": x points up), or None when it lies on none."""
    size = float(np.linalg.norm(mean_acc_m_s2))
    axis = int(np.argmax(np.abs(mean_acc_m_s2)))
    if size == 0 or abs(mean_acc_m_s2[axis]) < _FACE_SHARE * size:
        return None
    return ("+" if mean_acc_m_s2[axis] > 0 else "-") + "xyz"[axis]


def pair_of(mean_acc_m_s2: FloatArray) -> str | None:
    """The axes between whose faces the sensor leans ("x/y"); None: it lies on a face, or leans on a corner."""
    parts = np.abs(mean_acc_m_s2)
    weakest = int(np.argmin(parts))
    on_corner = parts[weakest] > _CORNER_SHARE * float(np.linalg.norm(mean_acc_m_s2))
    if face_of(mean_acc_m_s2) is not None or on_corner:
        return None
    return "/".join(axis for axis in "xyz" if axis != "xyz"[weakest])


def same_lean(one_m_s2: FloatArray, other_m_s2: FloatArray) -> bool:
    """Whether two mean forces at rest lie so near one another that the second tells nothing new."""
    sizes = float(np.linalg.norm(one_m_s2) * np.linalg.norm(other_m_s2))
    return bool(one_m_s2 @ other_m_s2 > _SAME_LEAN * sizes)


def turned_over(one_m_s2: FloatArray, other_m_s2: FloatArray) -> bool:
    """Whether two mean forces at rest point away from one another, as of a lean and the same upside down."""
    sizes = float(np.linalg.norm(one_m_s2) * np.linalg.norm(other_m_s2))
    return bool(-(one_m_s2 @ other_m_s2) > _OPPOSITE * sizes)


def missing_leans(leans_m_s2: list[FloatArray]) -> list[str]:
    """Of each pair of axes the lean, and the same turned over, that is not among leans of these mean forces."""
    missing = []
    for pair in PAIRS:
        ours = [lean for lean in leans_m_s2 if pair_of(lean) == pair]
        if not ours:
            missing.append(pair)
        if not any(turned_over(one, other) for one in ours for other in ours):
            missing.append(pair + TURNED)
    return missing


def missing_faces(means_m_s2: FloatArray) -> list[str]:
    """The faces no rest (its mean force; all: shape (n, 3)) lies on yet."""
    seen = {face_of(mean) for mean in means_m_s2}
    return [face for face in FACES if face not in seen]


def open_pairs(means_m_s2: FloatArray) -> list[str]:
    """The pairs of axes whose cross-axis term rests of these mean forces, shape (n, 3), cannot tell.

    Faces that lay askew open pairs too, since they mix scale with cross-axis; more leans settle either.
    """
    return [
        pair for pair, growth in zip(PAIRS, _growth(means_m_s2)[6:], strict=True) if growth > _LARGEST_GROWTH
    ]


def _growth(means_m_s2: FloatArray) -> FloatArray:
    """Standard error of each unknown (as shares: bias, scale, cross-axis) for rests off by one; 1000: not told."""
    up = means_m_s2 / np.linalg.norm(means_m_s2, axis=1)[:, None]
    slopes = np.hstack([-up, up**2, 2 * up[:, [0, 0, 1]] * up[:, [1, 2, 2]]])
    growth: FloatArray = np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes + 1e-6 * np.eye(UNKNOWNS))))
    return growth
