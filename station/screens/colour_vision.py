"""What a picture looks like to somebody without red (protanopia) or green (deuteranopia) cones.

Viénot, Brettel & Mollon 1999, Color Research & Application 24(4):243-252: linear RGB to cone responses, the missing
cone's response replaced by what the two others tell, and back.
"""

from __future__ import annotations

import numpy as np
from PySide6.QtGui import QImage

from drivers.samples import FloatArray

CONES_FROM_RGB = np.array(
    [[17.8824, 43.5161, 4.11935], [3.45565, 27.1554, 3.86714], [0.0299566, 0.184309, 1.46709]]
)
MISSING_CONE = {
    "protanopia": np.array([[0.0, 2.02344, -2.52581], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
    "deuteranopia": np.array([[1.0, 0.0, 0.0], [0.494207, 0.0, 1.24827], [0.0, 0.0, 1.0]]),
}


def linear(srgb: FloatArray) -> FloatArray:
    """sRGB (IEC 61966-2-1), 0 to 1, to linear light."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def gamma(light: FloatArray) -> FloatArray:
    """Linear light, 0 to 1, to sRGB."""
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


def seen_colours(srgb: FloatArray, kind: str) -> FloatArray:
    """Colours (..., 3), sRGB 0 to 1, as they look with "protanopia" or "deuteranopia"."""
    through = np.linalg.inv(CONES_FROM_RGB) @ MISSING_CONE[kind] @ CONES_FROM_RGB
    return gamma(np.clip(linear(srgb) @ through.T, 0.0, 1.0))


def seen_picture(picture: QImage, kind: str) -> QImage:
    """A picture as it looks with "protanopia" or "deuteranopia"."""
    plain = picture.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(plain.constBits(), np.uint8).reshape(plain.height(), plain.bytesPerLine())
    pixels = rows[:, : plain.width() * 3].reshape(plain.height(), plain.width(), 3) / 255.0
    seen = np.ascontiguousarray(np.round(seen_colours(pixels, kind) * 255.0).astype(np.uint8))
    made = QImage(
        seen.tobytes(), plain.width(), plain.height(), plain.width() * 3, QImage.Format.Format_RGB888
    )
    return made.copy()
