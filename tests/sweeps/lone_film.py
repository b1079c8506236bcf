"""A film of two seconds for the sweeps."""

from __future__ import annotations

import subprocess
from pathlib import Path


def short_film(folder: Path) -> Path:
    """Thirty frames of a moving test picture, 15 a second."""
    path = folder / "film.mp4"
    made = "testsrc2=s=96x64:r=15:d=2"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", made, "-pix_fmt", "yuv420p", str(path)], check=True)
    return path
