import json
from pathlib import Path

import jsonschema
import numpy as np

from clipmark.cli import main
from tests import made

SCHEMAS = Path(__file__).parents[2] / "docs" / "schemas"


def _beating(path: Path) -> Path:
    """Six seconds at 25 a second: a dark palp strikes at 5 Hz from 2 s to 4 s."""
    rng = np.random.default_rng(3)
    ground = np.kron(rng.uniform(60, 120, (30, 40)), np.ones((4, 4)))
    y, x = np.mgrid[:120, :160]

    def draw(k: int) -> np.ndarray:
        t = k / 25
        up = 5 * np.sin(np.pi * 5 * t) ** 2 if 2 <= t < 4 else 0.0
        palp = np.exp(-((x - 100) ** 2 / 40 + (y - 60 + up) ** 2 / 60))
        grey = np.clip(ground * (1 - palp) + 15 * palp, 0, 255).astype(np.uint8)
        return np.repeat(grey[..., None], 3, axis=2)

    return made.film(path, range(0, 6000, 40), draw=draw).path


def test_a_draft_of_a_film_keeps_to_its_schema_and_names_the_bout(tmp_path, capsys):
    film = _beating(tmp_path / "a.mkv")

    assert 0 == main(["draft", str(film), "--json"])
    document = json.loads(capsys.readouterr().out)

    jsonschema.validate(document, json.loads((SCHEMAS / "draft.schema.json").read_text(encoding="utf-8")))
    (bout,) = [one for one in document["proposals"] if one["act"] == "drumming"]
    assert abs(bout["start_s"] - 2.0) < 0.4
    assert abs(bout["end_s"] - 4.0) < 0.4
    assert "5.0 Hz" in bout["because"]


def test_a_draft_for_a_person_says_that_nothing_is_a_mark(tmp_path, capsys):
    assert 0 == main(["draft", str(_beating(tmp_path / "a.mkv"))])
    assert "none of them a mark" in capsys.readouterr().out


def test_a_missing_film_is_one_sentence(tmp_path, capsys):
    assert 1 == main(["draft", str(tmp_path / "no.mp4")])
    assert 1 == len(capsys.readouterr().err.strip().splitlines())
