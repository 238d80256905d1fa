"""The coach's live velocity trace: a ring buffer painted about thirty times a second, with fixed ranges."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QVBoxLayout, QWidget

from drivers.samples import FloatArray
from station.capture.rack_view import LiveTrace
from station.screens.theme import Look, TextSize
from station.screens.typeface import font

SHOWN_S = 8.0
VELOCITY_RANGE_M_S = (-1.5, 1.75)
FRAME_MS = 33
BUFFER_SAMPLES = 4096
MOST_POINTS = 800


class TraceBuffer:
    """The last stretch of the trace in a ring of fixed size."""

    def __init__(self, capacity: int = BUFFER_SAMPLES) -> None:
        self._time = np.full(capacity, np.nan)
        self._velocity = np.full(capacity, np.nan)
        self._next = 0

    def add(self, trace: LiveTrace) -> None:
        """Append a chunk; the oldest samples make room."""
        capacity = self._time.size
        time, velocity = trace.time_s[-capacity:], trace.velocity_m_s[-capacity:]
        places = (self._next + np.arange(time.size)) % capacity
        self._time[places] = time
        self._velocity[places] = velocity
        self._next = int((self._next + time.size) % capacity)

    def last(self, span_s: float) -> tuple[FloatArray, FloatArray]:
        """The last `span_s` seconds: time relative to the newest sample (s, negative), velocity (m/s)."""
        time = np.roll(self._time, -self._next)
        velocity = np.roll(self._velocity, -self._next)
        known = ~np.isnan(time)
        if not known.any():
            return np.empty(0), np.empty(0)
        time, velocity = time[known], velocity[known]
        shown = time >= time[-1] - span_s
        return time[shown] - time[-1], velocity[shown]


def thinned(values: FloatArray, most: int = MOST_POINTS) -> FloatArray:
    """Every n-th value, so that no more points are painted than the plot has pixels."""
    step = max(1, -(-values.size // most))
    return values[::-step][::-1]


class TracePlot(QWidget):
    """Paints only when something new has come, and only while it is visible."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("live velocity trace, for the coach")
        self._buffer = TraceBuffer()
        self._fresh = False
        self._plot = pg.PlotWidget(self)
        self._plot.setMenuEnabled(False)
        self._plot.setMouseEnabled(False, False)
        self._plot.hideButtons()
        self._plot.setXRange(-SHOWN_S, 0.0, padding=0)
        self._plot.setYRange(*VELOCITY_RANGE_M_S, padding=0)
        self._plot.disableAutoRange()
        self._zero = self._plot.addLine(y=0.0)
        self._curve = self._plot.plot()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._plot)
        self.set_look(look)
        self._timer = QTimer(self)
        self._timer.setInterval(FRAME_MS)
        self._timer.timeout.connect(self.paint_now)
        self._timer.start()

    def set_look(self, look: Look) -> None:
        """Change theme or sizes. The pen is opaque: pyqtgraph's fast path."""
        palette = look.palette
        self._plot.setBackground(palette.ground)
        self._curve.setPen(pg.mkPen(palette.ink, width=2))
        self._zero.setPen(pg.mkPen(palette.line, width=1))
        face = font(look.metrics, TextSize.COACH)
        for side in ("left", "bottom"):
            axis = self._plot.getAxis(side)
            axis.setPen(pg.mkPen(palette.line))
            axis.setTextPen(palette.ink)
            axis.setStyle(tickFont=face)
        cap = look.metrics.cap_px(TextSize.COACH)
        self._plot.getAxis("left").setWidth(round(2.2 * cap))
        self._plot.getAxis("bottom").setHeight(round(1.9 * cap))
        self._plot.getAxis("left").setTicks([[(-1.0, "−1"), (0.0, "0"), (1.0, "1")]])
        # "now" is the right edge; its word has room only beside it, where a mark would claim another time
        self._plot.getAxis("bottom").setStyle(tickLength=0)
        self._plot.getAxis("bottom").setTicks([[(-4.0, "−4 s"), (-0.85, "now")]])

    def add(self, trace: LiveTrace) -> None:
        """Take a chunk in; it is painted with the next frame."""
        self._buffer.add(trace)
        self._fresh = True

    def shown_points(self) -> int:
        """How many points the last frame had."""
        time, _ = self._curve.getData()
        return 0 if time is None else len(time)

    def stop(self) -> None:
        """No more frames."""
        self._timer.stop()

    def paint_now(self) -> None:
        """Paint what has come since the last frame, if anybody can see it."""
        if not self._fresh or not self.isVisible():
            return
        self._fresh = False
        time, velocity = self._buffer.last(SHOWN_S)
        self._curve.setData(thinned(time), thinned(velocity))
