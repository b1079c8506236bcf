"""The picture of docs/survey.md, from one made film of two and a half minutes: `python -m docs.make_survey_picture`.

The film is rendered when it is not in the cache of test films yet, which takes some minutes.
"""

from __future__ import annotations

from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np

from clipmark.media.clip import open_clip
from clipmark.report.survey_file import packets_of_clip, survey_clip
from tests.film.long import long_film

PICTURE = Path(__file__).parent / "pictures" / "survey.png"
GREEN, BLUE, INK = "#009e73", "#56b4e9", "#1b1b1b"


def main() -> None:
    """Draw what packets say, what pictures say, and what was true."""
    path, truth = long_film("tripod", 0)
    clip = open_clip(path, use_cache=False)
    rough, found = packets_of_clip(clip), survey_clip(clip, threads=1)
    moving = np.array(truth["moving"])
    seconds = np.arange(len(moving))
    figure, rows = plt.subplots(3, 1, figsize=(9, 3.6), sharex=True, layout="constrained")
    rows[0].bar(np.arange(len(rough.lane)) + 0.5, np.nan_to_num(rough.lane), 1.0, color=BLUE)
    rows[0].set_ylabel("packet\nsizes", rotation=0, ha="right", va="center")
    shown = np.where(found.lane > 0.011, np.sqrt(found.lane), 0)
    rows[1].bar(np.arange(len(shown)) + 0.5, shown, 1.0, color=GREEN)
    rows[1].set_ylabel("decoded\npictures", rotation=0, ha="right", va="center")
    rows[2].bar(seconds + 0.5, moving, 1.0, color=INK)
    rows[2].set_ylabel("truth", rotation=0, ha="right", va="center")
    rows[2].set_xlabel("seconds")
    for row in rows:
        row.set_yticks([])
        row.set_xlim(0, len(moving))
        for side in ("top", "right", "left"):
            row.spines[side].set_visible(False)
    figure.savefig(PICTURE, dpi=110)


if __name__ == "__main__":
    main()
