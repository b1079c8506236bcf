"""Small trials of each library: it does once, for real, what clipmark needs of it.

`clipmark check` runs each in a process of its own (`python -m clipmark.trials NAME`), so that a library that takes
its process down is told like any other fault. What needs a window library is tried in clipmark/window/trials.py.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from collections.abc import Callable, Mapping
from importlib.metadata import version
from pathlib import Path

from clipmark.resources import resource


class Unable(Exception):
    """A library ran but did not do what was asked; the text says what came out instead."""


def film() -> str:
    """PyAV opens the sample film, decodes its beginning, seeks to its middle and decodes sound."""
    import av

    with av.open(str(resource("sample_media/pairing.mp4"))) as container:
        picture = container.streams.video[0]
        first = next(container.decode(picture))
        middle = (picture.start_time or 0) + (picture.duration or 0) // 2
        container.seek(middle, stream=picture)
        later = next(container.decode(picture))
        container.seek(0)
        sound = next(container.decode(container.streams.audio[0]))
    if first.width != picture.width or not first.to_ndarray(format="gray").any():
        raise Unable("the first picture of the sample film is empty")
    if later.pts is None or first.pts is None or not first.pts < later.pts <= middle:
        raise Unable("it cannot seek in the sample film")
    if not sound.samples:
        raise Unable("it gives no sound of the sample film")
    lacking = [name for name in ("hevc", "av1", "vp9", "mpeg4", "mjpeg", "aac", "mp3") if not _decodes(name)]
    missing = f"; it lacks decoders for {', '.join(lacking)}" if lacking else ""
    return f"PyAV {av.__version__} opens, decodes and seeks{missing}"


def _decodes(name: str) -> bool:
    import av

    try:
        av.Codec(name, "r")
    except ValueError:
        return False
    return True


def cuts() -> str:
    """PyAV writes a short film that can be read again: slow-motion cuts."""
    import av
    import numpy as np

    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "cut.mp4")
        with av.open(path, "w") as out:
            stream = out.add_stream("libx264", rate=25)
            stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
            for level in (40, 80, 120):
                frame = av.VideoFrame.from_ndarray(np.full((48, 64, 3), level, np.uint8), format="rgb24")
                out.mux(stream.encode(frame))
            out.mux(stream.encode(None))
        with av.open(path) as back:
            count = sum(1 for _ in back.decode(video=0))
    if count != 3:
        raise Unable(f"of 3 frames written, {count} came back")
    return "PyAV writes MP4"


def picture() -> str:
    """OpenCV shrinks a picture by area, and finds by how much a picture was moved."""
    import cv2
    import numpy as np

    scene = np.random.default_rng(1).integers(0, 256, (96, 128)).astype(np.float32)
    small = cv2.resize(scene, (64, 48), interpolation=cv2.INTER_AREA)
    if not np.allclose(small, scene.reshape(48, 2, 64, 2).mean((1, 3)), atol=1e-3):
        raise Unable("it shrinks pictures wrongly")
    by = np.array([[1.0, 0, 3], [0, 1, -2]])
    moved = cv2.warpAffine(scene, by, (128, 96), borderMode=cv2.BORDER_WRAP)
    (x, y), _ = cv2.phaseCorrelate(scene, moved)
    if abs(x - 3) > 0.2 or abs(y + 2) > 0.2:
        raise Unable(f"a picture moved by 3 and -2 pixels was measured as moved by {x:.1f} and {y:.1f}")
    return f"OpenCV {cv2.__version__} shrinks, moves and matches pictures"


def signals() -> str:
    """SciPy finds the peaks of a rhythm, and the lowest place of a curve."""
    import numpy as np
    import scipy
    from scipy.optimize import minimize
    from scipy.signal import find_peaks, resample_poly

    wave = np.sin(2 * np.pi * 5 * np.arange(200) / 100)
    if len(find_peaks(wave)[0]) != 10 or len(resample_poly(wave, 1, 2)) != 100:
        raise Unable("ten peaks were not found as ten")
    if abs(float(minimize(lambda x: (x[0] - 2) ** 2, [0.0]).x[0]) - 2) > 1e-3:
        raise Unable("it does not find the lowest place of a curve")
    return f"SciPy {scipy.__version__} finds peaks and fits"


def shapes() -> str:
    """scikit-image tells the length and the angle of a region."""
    import numpy as np
    from skimage.measure import label, regionprops

    mask = np.zeros((40, 60), bool)
    mask[15:25, 10:50] = True
    (found,) = regionprops(label(mask))
    if found.area != 400 or not 40 < found.axis_major_length < 50:
        raise Unable("a bar of 40 by 10 pixels was measured wrongly")
    return f"scikit-image {version('scikit-image')} measures regions"


def tables() -> str:
    """pandas writes a table and reads it again."""
    import io

    import pandas as pd

    table = pd.DataFrame({"act": ["drumming", "contact"], "at_s": [1.25, 3.5]})
    back = pd.read_csv(io.StringIO(table.to_csv(index=False)))
    if not table.equals(back):
        raise Unable("a table came back changed")
    return f"pandas {pd.__version__} writes and reads tables"


def page() -> str:
    """Jinja renders the page of a sheet, with what could be code made harmless."""
    import jinja2

    out = jinja2.Environment(autoescape=True).from_string("{{ name }}").render(name="<Mora>")
    if out != "&lt;Mora&gt;":
        raise Unable("it lets markup through")
    return f"Jinja {jinja2.__version__} renders pages"


def reminders() -> str:
    """icalendar writes a reminder and reads it again."""
    from datetime import date

    import icalendar

    calendar, event = icalendar.Calendar(), icalendar.Event()
    event.add("summary", "Pull the sac")
    event.add("dtstart", date(2026, 5, 1))
    calendar.add_component(event)
    (back,) = icalendar.Calendar.from_ical(calendar.to_ical()).walk("VEVENT")
    if back.decoded("dtstart") != date(2026, 5, 1):
        raise Unable("a day came back changed")
    return f"icalendar {icalendar.__version__} writes reminders"


def lettering() -> str:
    """Pillow draws the clock of a cut."""
    import PIL
    from PIL import Image, ImageDraw, ImageFont

    image = Image.new("L", (120, 32))
    ImageDraw.Draw(image).text((2, 2), "0:39.240", fill=255, font=ImageFont.load_default(20))
    if image.getbbox() is None:
        raise Unable("what it draws stays blank")
    return f"Pillow {PIL.__version__} draws letters"


def book() -> str:
    """SQLite keeps a row, and a transaction that is given up leaves nothing."""
    with tempfile.TemporaryDirectory() as folder:
        db = sqlite3.connect(Path(folder) / "trial.book", isolation_level=None)
        try:
            db.execute("CREATE TABLE mark (act TEXT NOT NULL) STRICT")
            db.execute("BEGIN IMMEDIATE")
            db.execute("INSERT INTO mark VALUES ('contact')")
            db.execute("ROLLBACK")
            left = db.execute("SELECT count(*) FROM mark").fetchone()[0]
        finally:
            db.close()
    if left:
        raise Unable("a transaction that was given up left a row")
    return f"SQLite {sqlite3.sqlite_version} keeps the book"


TRIALS: Mapping[str, Callable[[], str]] = {
    trial.__name__: trial
    for trial in (film, cuts, picture, signals, shapes, tables, page, reminders, lettering, book)
}


def main(arguments: list[str], trials: Mapping[str, Callable[[], str]] = TRIALS) -> int:
    """Run one trial by name; its sentence goes to stdout, what it failed with to stderr."""
    try:
        print(trials[arguments[0]]())
    except Exception as error:  # whatever a library does wrong is an answer here
        print(f"{error}" if isinstance(error, Unable) else f"{type(error).__name__}: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
