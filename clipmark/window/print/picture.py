"""A drawing as PNG: `python -m clipmark.window.print.picture DRAWING.svg OUT.png`, in a process of its own.

Twice as many pixels as the drawing has units, on white, so that it can be pasted anywhere.
"""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QByteArray
from PySide6.QtGui import QGuiApplication, QImage, QPainter
from PySide6.QtSvg import QSvgRenderer

SCALE = 2


def main(source: Path, out: Path) -> int:
    """Draw the SVG file into the PNG file; 0 where it was written."""
    app = QGuiApplication.instance() or QGuiApplication([])
    renderer = QSvgRenderer(QByteArray(source.read_bytes()))
    image = QImage(renderer.defaultSize() * SCALE, QImage.Format.Format_RGB32)
    image.fill("white")
    painter = QPainter(image)
    renderer.render(painter)
    painter.end()
    assert app is not None
    return 0 if image.save(str(out)) else 1


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
