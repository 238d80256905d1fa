"""The plot of two devices' agreement: difference over mean, with bias and limits (Bland & Altman 1986)."""

from __future__ import annotations

import os
from pathlib import Path

from drivers.samples import FloatArray
from station.readiness.agreement import Agreement

WIDTH, HEIGHT = 1000, 600


def plot_agreement(ours_m_s: FloatArray, reference_m_s: FloatArray, found: Agreement, path: Path) -> None:
    """Draw one point a repetition; a PNG, drawn without a display."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    import pyqtgraph as pg
    from pyqtgraph.exporters import ImageExporter

    app = pg.mkQApp()
    view = pg.GraphicsView(background="w")
    panel = pg.PlotItem(title=f"{found.pairs} repetitions: difference over mean")
    view.setCentralItem(panel)
    panel.setLabel("bottom", "mean of both devices, m/s")
    panel.setLabel("left", "ours minus reference, m/s")
    for axis in ("bottom", "left"):
        panel.getAxis(axis).enableAutoSIPrefix(False)
        panel.getAxis(axis).setPen("k")
        panel.getAxis(axis).setTextPen("k")
    dashed = pg.mkPen("k", style=pg.QtCore.Qt.PenStyle.DashLine)
    for value, pen, name in (
        (found.upper, dashed, "upper limit"),
        (found.bias, pg.mkPen("k"), "bias"),
        (found.lower, dashed, "lower limit"),
    ):
        label = {"position": 0.9, "color": "k", "movable": False}
        panel.addItem(pg.InfiniteLine(value, 0, pen=pen, label=f"{name} {value:+.3f}", labelOpts=label))
    middle = 0.5 * (ours_m_s + reference_m_s)
    panel.plot(middle, ours_m_s - reference_m_s, pen=None, symbol="o", symbolSize=7, symbolBrush="#0072B2")
    panel.setYRange(
        min(found.lower, float((ours_m_s - reference_m_s).min())) - 0.005,
        max(found.upper, float((ours_m_s - reference_m_s).max())) + 0.005,
    )
    view.resize(WIDTH, HEIGHT)
    view.show()
    app.processEvents()
    ImageExporter(view.scene()).export(str(path))
    view.close()
