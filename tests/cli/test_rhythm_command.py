import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest

from clipmark.cli import main
from tests import made


@pytest.fixture
def still(tmp_path):
    return made.film(tmp_path / "still.mkv", range(0, 1600, 40), draw=lambda _: made.numbered(5)).path


def test_a_film_without_sound_or_rhythm_says_so(still, capsys):
    assert 0 == main(["rhythm", str(still)])
    said = capsys.readouterr().out
    assert "no sound" in said
    assert "No rhythm" in said


def test_the_machine_readable_answer_names_what_can_be_resolved(still, capsys):
    assert 0 == main(["rhythm", str(still), "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert "clipmark-rhythm/1" == answer["format"]
    assert answer["resolvable_below_hz"] > 0


@pytest.mark.parametrize("region", ["1,2,3", "a,b,c,d,e", "0,0,0,0,10", "-1,0,0,5,5", "nan,0,0,5,5"])
def test_what_is_no_region_is_wrong_usage(still, region, capsys):
    assert 2 == main(["rhythm", str(still), f"--region={region}"])
    assert 1 == len(capsys.readouterr().err.strip().splitlines())


@pytest.mark.parametrize("region", ["999,0,0,10,10", "0,900,900,10,10"])
def test_a_region_that_is_not_in_the_film_is_told(still, region, capsys):
    assert 1 == main(["rhythm", str(still), "--region", region])
    assert "outside the film" in capsys.readouterr().err


def test_a_missing_film_is_told(tmp_path, capsys):
    assert 1 == main(["rhythm", str(tmp_path / "no.mp4")])
    assert 1 == len(capsys.readouterr().err.strip().splitlines())


def test_in_a_real_film_whose_picture_beats_otherwise_no_agreement_is_claimed(capsys):
    """iscc-samples demo.mp4 (CC-BY-4.0): the drums sound at 6 Hz, the picture's movement is elsewhere."""
    spec = importlib.util.find_spec("iscc_samples")
    if spec is None:
        pytest.skip("needs iscc-samples of the test extra")
    film = Path(next(iter(spec.submodule_search_locations))) / "files" / "video" / "demo.mp4"

    assert 0 == main(["rhythm", str(film), "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert [] == answer["agreements"]
    assert np.isclose(12.0, answer["resolvable_below_hz"])
