"""Only local films come in: no address, no playlist, no script, whatever the file is called."""

from __future__ import annotations

import contextlib
import os
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from clipmark.media.clip import open_clip
from clipmark.media.open_film import (
    ClipCutShort,
    ClipEmpty,
    ClipIsFolder,
    ClipMissing,
    ClipUnreadable,
    NoPicture,
    open_container,
)
from tests import made

ROOT = Path(__file__).parents[2]


class Listener:
    """Counts who calls at a port of this machine; a call is answered with nothing."""

    def __init__(self) -> None:
        self._socket = socket.create_server(("127.0.0.1", 0))
        self._udp = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._udp.bind(("127.0.0.1", self._socket.getsockname()[1]))
        self._udp.setblocking(False)
        self.port: int = self._socket.getsockname()[1]
        self.calls = 0
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        while True:
            try:
                caller, _ = self._socket.accept()
            except OSError:
                return
            self.calls += 1
            caller.close()

    def heard(self) -> int:
        """Calls so far, datagrams included."""
        try:
            self._udp.recv(2000)
            self.calls += 1
        except BlockingIOError:
            pass
        return self.calls

    def close(self) -> None:
        self._socket.close()
        self._udp.close()


@pytest.fixture
def listener() -> Iterator[Listener]:
    found = Listener()
    yield found
    found.close()


def crafted(port: int, film: Path) -> dict[str, str]:
    """Playlists, scripts and descriptions that send a trusting decoder elsewhere."""
    url = f"http://127.0.0.1:{port}/film.mp4"
    return {
        "a playlist with an address": f"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\n{url}\n#EXT-X-ENDLIST\n",
        "a playlist with a file": f"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nfile://{film}\n#EXT-X-ENDLIST\n",
        "a playlist with a key": "#EXTM3U\n#EXT-X-TARGETDURATION:9\n"
        f'#EXT-X-KEY:METHOD=AES-128,URI="{url}"\n#EXTINF:9,\nfilm.mp4\n',
        "a list of parts": f"ffconcat version 1.0\nfile '{film}'\nfile '{url}'\n",
        "a list of addresses": f"ffconcat version 1.0\nfile '{url}'\n",
        "a session description": "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\n"
        f"m=video {port} RTP/AVP 96\na=rtpmap:96 H264/90000\n",
        "a manifest": '<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static">'
        f"<Period><BaseURL>{url}</BaseURL></Period></MPD>",
        "an address alone": f"[playlist]\nFile1={url}\n",
        "a real-time description": f"RTSPtext\nrtsp://127.0.0.1:{port}/film\n",
        "an image script": f'<svg xmlns="http://www.w3.org/2000/svg"><image href="{url}"/></svg>',
    }


@pytest.mark.parametrize("suffix", [".mp4", ".m3u8", ".ffconcat", ".sdp", ".mpd"])
def test_no_playlist_or_script_is_followed_and_nobody_is_called(
    tmp_path: Path, listener: Listener, suffix: str
) -> None:
    film = made.film(tmp_path / "film.mkv", [0, 40]).path
    for name, text in crafted(listener.port, film).items():
        path = tmp_path / f"{name}{suffix}"
        path.write_text(text)

        with pytest.raises(ClipUnreadable, match="of no kind that clipmark knows"):
            open_clip(path)

    assert 0 == listener.heard()


def test_an_address_is_a_file_that_is_not_there(listener: Listener) -> None:
    for scheme in ("http", "https", "rtmp", "rtsp", "tcp", "udp", "ftp", "hls+http", "crypto+http"):
        with pytest.raises(ClipMissing):
            open_clip(f"{scheme}://127.0.0.1:{listener.port}/film.mp4")

    assert 0 == listener.heard()


def test_the_listener_of_these_tests_hears(listener: Listener) -> None:
    socket.create_connection(("127.0.0.1", listener.port)).close()
    for _ in range(100):
        if listener.heard():
            break
        threading.Event().wait(0.02)

    assert 1 == listener.heard()


def test_a_film_that_names_an_outside_file_does_not_get_it(tmp_path: Path, listener: Listener) -> None:
    # a MOV whose samples lie, by its own word, in another file: its "self-contained" mark is taken away
    path = made.film(tmp_path / "film.mov", [0, 40, 80], codec="mjpeg", pixel_format="yuvj420p").path
    data = bytearray(path.read_bytes())
    at = data.index(b"url ", data.index(b"dref"))
    data[at + 7] = 0
    path.write_bytes(data)

    with contextlib.suppress(ClipUnreadable):
        assert len(open_clip(path).index) <= 3
    assert 0 == listener.heard()


@pytest.mark.parametrize(
    "name",
    [
        "concat:a.mp4|b.mp4",
        "http:film.mkv",
        "pipe:0",
        "-i.mkv",
        "%03d.mkv",
        "Ünïcödé 蜘蛛 паук.mkv",
        "two\nlines.mkv",
        'quote\'s "and" “more”.mkv',
        "a" * 251 + ".mkv",
        "*.mkv",
        "subfile,,start,0,end,0,,:x.mkv",
    ],
)
def test_a_film_may_be_called_anything(tmp_path: Path, name: str) -> None:
    film = made.film(tmp_path / "film.mkv", [0, 40, 80]).path.rename(tmp_path / name)

    assert 3 == len(open_clip(film).index)


def test_a_film_may_be_named_from_where_one_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made.film(tmp_path / "cache:film.mkv", [0, 40])
    monkeypatch.chdir(tmp_path)

    assert 2 == len(open_clip("cache:film.mkv").index)
    assert 2 == len(open_clip(Path("../") / tmp_path.name / "cache:film.mkv").index)


def test_each_file_that_will_not_do_is_refused_in_its_own_words(tmp_path: Path) -> None:
    empty, text = tmp_path / "empty.mp4", tmp_path / "notes.mp4"
    empty.touch()
    text.write_text("Tuesday: he drummed, she did not answer.\n" * 50)

    with pytest.raises(ClipMissing, match="there is no such file"):
        open_clip(tmp_path / "gone.mp4")
    with pytest.raises(ClipIsFolder, match="it is a folder"):
        open_clip(tmp_path)
    with pytest.raises(ClipEmpty, match=r"empty \(0 bytes\)"):
        open_clip(empty)
    with pytest.raises(ClipUnreadable, match="of no kind that clipmark knows"):
        open_clip(text)


def test_an_mp4_cut_short_before_its_index_is_said_to_be_cut_short(tmp_path: Path) -> None:
    path = made.film(tmp_path / "film.mp4", range(0, 4000, 40), codec="mpeg4", pixel_format="yuv420p").path
    data = path.read_bytes()
    path.write_bytes(data[: data.index(b"moov") - 20])

    with pytest.raises(ClipCutShort, match="cut short"):
        open_clip(path)


def test_sound_alone_is_no_film(tmp_path: Path) -> None:
    import wave

    with wave.open(str(tmp_path / "sound.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(bytes(16000))

    with pytest.raises(NoPicture, match="sound but no moving picture"):
        open_clip(tmp_path / "sound.wav")


def test_what_is_no_ordinary_file_is_not_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.mp4")

    with pytest.raises(ClipUnreadable, match="no ordinary file"):
        open_clip(tmp_path / "pipe.mp4")


def test_a_name_that_no_file_can_have_is_refused_in_words() -> None:
    with pytest.raises(ClipUnreadable):
        open_clip("film\0.mp4")
    with pytest.raises(ClipUnreadable):
        open_clip("a" * 5000)


OPEN_AS_NOBODY = """
import os, sys
from clipmark.media.clip import open_clip
from clipmark.media.open_film import ClipUnreadable
if os.geteuid() == 0:  # who may read everything
    os.setgid(65534)
    os.setuid(65534)
try:
    open_clip(sys.argv[1], use_cache=False)
except ClipUnreadable as error:
    print(error)
"""


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs the rights of files, which Windows lacks")
def test_a_file_that_may_not_be_read_is_said_so() -> None:
    with tempfile.TemporaryDirectory() as folder:  # pytest's own folder is closed to everybody else
        os.chmod(folder, 0o755)
        film = made.film(Path(folder) / "film.mkv", [0, 40]).path
        film.chmod(0)
        done = subprocess.run([sys.executable, "-c", OPEN_AS_NOBODY, film], capture_output=True, text=True, cwd=ROOT)

    assert "rights" in done.stdout, done.stderr


def test_the_container_is_closed_again_when_it_holds_no_picture(tmp_path: Path) -> None:
    film = made.film(tmp_path / "film.mkv", [0, 40]).path
    before = len(os.listdir("/proc/self/fd")) if os.path.isdir("/proc/self/fd") else 0
    for _ in range(20):
        open_clip(film, use_cache=False)
        with open_container(film):
            pass

    after = len(os.listdir("/proc/self/fd")) if os.path.isdir("/proc/self/fd") else 0
    assert after <= before + 3


def test_a_film_whose_texts_are_in_an_old_encoding_opens(tmp_path: Path) -> None:
    film = made.film(tmp_path / "film.mkv", [0, 40]).path
    film.write_bytes(film.read_bytes().replace(b"Lavf", "Größ".encode("latin-1")))  # the name of the writing program

    with open_container(film) as container:
        read = container.metadata["ENCODER"].encode("utf-8", "surrogateescape").decode("latin-1")

    assert read.startswith("Größ")
