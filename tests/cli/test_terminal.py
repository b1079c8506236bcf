import io

import pytest

from clipmark.cli.terminal import Bar, CannotWrite, atomic_file


def test_a_file_appears_only_when_it_is_complete(tmp_path):
    out = tmp_path / "flags.json"

    with pytest.raises(RuntimeError), atomic_file(out) as file:
        file.write("half")
        raise RuntimeError
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_told_in_a_sentence(tmp_path):
    with pytest.raises(CannotWrite, match="Choose another place"), atomic_file(tmp_path / "no" / "f.json"):
        pass


def test_in_a_pipe_no_bar_is_drawn():
    stream = io.StringIO()
    Bar("scan", stream).advance(3, 10)

    assert stream.getvalue() == ""
