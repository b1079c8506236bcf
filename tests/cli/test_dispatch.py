import subprocess
import sys

import pytest

from clipmark.cli import COMMANDS, main

HEAVY = {"cv2", "av", "PySide6", "pandas", "numpy", "matplotlib", "scipy", "skimage"}


def test_an_unknown_command_is_wrong_usage_and_the_known_ones_are_named(capsys):
    assert main(["scna"]) == 2
    assert "scan" in capsys.readouterr().err


def test_film_files_instead_of_a_command_open_the_window_on_them(monkeypatch, tmp_path):
    film = tmp_path / "night.mp4"
    film.write_bytes(b"film")
    opened = []
    monkeypatch.setattr("clipmark.cli._open_window", lambda arguments: opened.append(list(arguments)) or 0)

    assert 0 == main([str(film)])
    assert [[str(film)]] == opened


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_explains_itself_with_an_example(name, capsys):
    with pytest.raises(SystemExit) as ended:
        main([name, "--help"])
    assert ended.value.code == 0
    assert "example" in capsys.readouterr().out


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_a_wrong_option_is_one_sentence_and_exit_two(name, capsys):
    assert main([name, "--no-such-option-anywhere"]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_help_does_not_wait_for_heavy_libraries():
    code = (
        "import sys\nfrom clipmark.cli import main\nmain(['--help'])\n"
        "print(*sorted({name.split('.')[0] for name in sys.modules}))"
    )
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert set() == HEAVY & set(answer.stdout.strip().splitlines()[-1].split())
