"""Plots of the errors, drawn without a display."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np

from tests.validation.outcome import Outcome

_COLUMNS = 2
_WIDTH, _HEIGHT = 1200, 320


def plot_errors(outcomes: dict[str, Outcome], path: Path) -> None:
    """Error against true mean velocity, one panel a condition, with ±0.01 m/s drawn; a PNG."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    import pyqtgraph as pg
    from pyqtgraph.exporters import ImageExporter

    app = pg.mkQApp()
    pg.setConfigOptions(background="w", foreground="k")
    layout = pg.GraphicsLayout()
    for index, (name, outcome) in enumerate(outcomes.items()):
        if index % _COLUMNS == 0 and index:
            layout.nextRow()
        panel = layout.addPlot(title=name)
        panel.setLabel("bottom", "true mean velocity, m/s")
        panel.setLabel("left", "error, m/s")
        for level in (-0.01, 0.01):
            panel.addLine(y=level, pen=pg.mkPen("k", style=pg.QtCore.Qt.PenStyle.DashLine))
        panel.setYRange(-0.05, 0.05)
        error = np.clip(outcome.column(0), -0.05, 0.05)
        panel.plot(outcome.column(3), error, pen=None, symbol="o", symbolSize=4, symbolBrush="#0072B2")
    view = pg.GraphicsView()
    view.setCentralItem(layout)
    view.resize(_WIDTH, _HEIGHT * -(-len(outcomes) // _COLUMNS))
    view.show()
    app.processEvents()
    exporter = ImageExporter(layout)
    exporter.export(str(path))
    view.close()
