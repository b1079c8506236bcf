"""docs/trade-facts.md says of each kind what models/species says, and the sample page what the film says."""

import runpy
from pathlib import Path

from clipmark.reading.kinds import species

DOCS = Path(__file__).parents[3] / "docs"
PAGE = (DOCS / "trade-facts.md").read_text("utf-8")


def test_what_is_said_of_each_kind_is_made_from_the_data():
    made = runpy.run_path(str(DOCS / "make_kinds.py"))["made"]()

    assert made in PAGE, "run python docs/make_kinds.py"


def test_every_fact_of_every_kind_stands_in_the_page():
    for one in species.load_all():
        for fact in one.facts:
            assert fact.text.rstrip(".") in PAGE, fact.text
        for figure in one.figures:
            assert figure.text in PAGE, figure


def test_the_sample_drums_as_fast_as_its_page_says():
    """Truth of the sample: 10 and 11.2 strikes a second (docs/sample-session.md)."""
    from clipmark.media.clip import open_clip
    from clipmark.media.sound.clip_sound import read_sound
    from clipmark.motion.rhythm.heard import sound_bouts
    from clipmark.progress import SILENT
    from clipmark.report.films.listening import RATE, struck

    sound = read_sound(open_clip(DOCS.parent / "sample_media" / "pairing.mp4"), RATE, SILENT)
    assert sound is not None
    bouts = sound_bouts(struck(sound.between(0, 14), sound.rate, SILENT))
    rates = [b.rate_hz for b in bouts if 5.5 <= b.start_s <= 13.5]

    assert {10.0, 11.2} == {round(rate, 1) for rate in rates}
    assert "10.0 and 11.2 strikes a second" in (DOCS / "sample-session.md").read_text("utf-8")
