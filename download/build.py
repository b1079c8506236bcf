"""Make the download that needs no Python: one folder with clipmark and all that it uses, packed.

    .venv/bin/python download/build.py             into dist/
    .venv/bin/python download/build.py --keep      keep the environment that it was built in (build/download)

Makes a fresh environment with the versions of versions/tested.txt and PyInstaller, and lets PyInstaller gather
everything. On Linux the folder runs on the system that it was built on and on later ones (the C library must not be
older), so build it on the oldest that is to be served. The same script is written for Windows and macOS; it has not
been tried there.
"""

from __future__ import annotations

import argparse
import platform
import re
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
HERE = ROOT / "download"
WORK = ROOT / "build" / "download"
OUT = ROOT / "dist"
# what PyInstaller leaves to the system although a bare one lacks it: the switch between makers of graphics drivers,
# which itself drives nothing, and Qt's own parts for the X window system, which are loaded by name at the start
CARRIED = (
    "libEGL.so.1", "libGL.so.1", "libGLX.so.0", "libGLdispatch.so.0", "libOpenGL.so.0", "libasound.so.2",
    "libdrm.so.2", "libwayland-server.so.0", "libxcb.so.1", "libxcb-cursor.so.0", "libxcb-dri3.so.0",
    "libxcb-icccm.so.4", "libxcb-image.so.0", "libxcb-keysyms.so.1", "libxcb-render-util.so.0", "libxcb-util.so.1",
    "libxkbcommon-x11.so.0", "libxkbcommon.so.0",
)  # fmt: skip
# of Qt, clipmark uses widgets, pictures, sound, print and the page engine; the rest would double the size
LEFT_OUT = (
    "PySide6.Qt3DCore", "PySide6.QtCharts", "PySide6.QtDataVisualization", "PySide6.QtDesigner", "PySide6.QtGraphs",
    "PySide6.QtBluetooth", "PySide6.QtNfc", "PySide6.QtSql", "PySide6.QtTest", "tkinter", "matplotlib", "IPython",
)  # fmt: skip


def python() -> Path:
    """The Python of the environment that the download is built in, made anew if it is not there."""
    here = WORK / "venv"
    found = here / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    if not found.exists():
        venv.create(here, with_pip=True)
        pip: list[str | Path] = [
            found,
            "-m",
            "pip",
            "install",
            "--quiet",
            "--constraint",
            ROOT / "versions" / "tested.txt",
        ]
        subprocess.run([*pip, "pyinstaller"], check=True)
        subprocess.run([*pip, f"{ROOT}[cluster]"], check=True)
    subprocess.run([found, "-m", "pip", "install", "--quiet", "--no-deps", "--force-reinstall", ROOT], check=True)
    return found


def libraries() -> list[Path]:
    """Where this Linux keeps the libraries of CARRIED."""
    if not sys.platform.startswith("linux"):
        return []
    tool = shutil.which("ldconfig") or "/sbin/ldconfig"
    lines = subprocess.run([tool, "-p"], capture_output=True, text=True, check=True).stdout.splitlines()
    word = "x86-64" if platform.machine() == "x86_64" else "AArch64"
    places = {line.split()[0]: Path(line.split("=>")[1].strip()) for line in lines if "=>" in line and word in line}
    missing = [name for name in CARRIED if name not in places]
    if missing:
        sys.exit(f"Missing here, and needed in the download: {', '.join(missing)}. Run: clipmark check --install")
    return [places[name] for name in CARRIED]


def icon(built_by: Path) -> Path | None:
    """The icon as the system's programs want it, drawn from the SVG; None on Linux, where the SVG itself serves."""
    if sys.platform.startswith("linux"):
        return None
    suffix = "ico" if sys.platform == "win32" else "icns"
    out = WORK / f"clipmark.{suffix}"
    code = (
        "import os, sys; os.environ['QT_QPA_PLATFORM'] = 'offscreen'\n"
        "from PySide6.QtGui import QGuiApplication, QImage, QPainter\n"
        "from PySide6.QtSvg import QSvgRenderer\n"
        "app = QGuiApplication([])\n"
        "image = QImage(256, 256, QImage.Format.Format_ARGB32); image.fill(0)\n"
        "painter = QPainter(image); QSvgRenderer(sys.argv[1]).render(painter); painter.end()\n"
        "sys.exit(not image.save(sys.argv[2]))\n"
    )
    drawn = WORK / "clipmark.png"
    subprocess.run([built_by, "-c", code, ROOT / "clipmark/window/icons/clipmark.svg", drawn], check=True)
    pack = "import sys; from PIL import Image; Image.open(sys.argv[1]).save(sys.argv[2])"
    subprocess.run([built_by, "-c", pack, drawn, out], check=True)
    return out


def gather(built_by: Path) -> Path:
    """Let PyInstaller make the folder; where it lies."""
    command: list[str | Path] = [
        built_by, "-m", "PyInstaller", HERE / "start.py", "--name", "clipmark", "--noconfirm", "--onedir",
        "--console", "--distpath", WORK / "dist", "--workpath", WORK / "work", "--specpath", WORK,
        "--collect-submodules", "clipmark", "--collect-data", "clipmark", "--collect-data", "icalendar",
        "--collect-submodules", "skimage.measure", "--collect-data", "skimage", "--copy-metadata", "clipmark",
        "--copy-metadata", "scikit-image", "--hidden-import", "PySide6.QtWebEngineCore",
        "--hidden-import", "PySide6.QtMultimedia", "--hidden-import", "PySide6.QtSvg",
    ]  # fmt: skip
    for name in LEFT_OUT:
        command += ["--exclude-module", name]
    for library in libraries():
        command += ["--add-binary", f"{library}:."]
    drawn = icon(built_by)
    if drawn is not None:
        command += ["--icon", drawn]
    subprocess.run(command, cwd=WORK, check=True)
    return WORK / "dist" / "clipmark"


def needed(folder: Path) -> set[str]:
    """Names of the libraries that Qt's parts in the folder ask for, one through the other."""
    qt = folder / "_internal" / "PySide6"
    parts = [*qt.glob("*.so*"), *qt.glob("Qt/plugins/**/*.so"), *qt.glob("Qt/libexec/*")]
    environment = {"PATH": "/usr/bin:/bin", "LD_LIBRARY_PATH": str(folder / "_internal")}
    names: set[str] = set()
    for part in parts:
        told = subprocess.run(["ldd", part], capture_output=True, text=True, check=False, env=environment).stdout
        names |= {line.split()[0] for line in told.splitlines() if "=>" in line}
    return names


def thin(folder: Path) -> None:
    """Leave out what Qt's page engine draws in and no part of clipmark uses: QML, its libraries, translations."""
    qt = folder / "_internal" / "PySide6" / "Qt"
    shutil.rmtree(qt / "qml", ignore_errors=True)
    for part in (qt / "translations").rglob("*"):
        if part.is_file() and part.name != "en-US.pak":
            part.unlink()
    if sys.platform.startswith("linux"):
        wanted = needed(folder)
        for library in (qt / "lib").glob("libQt6*.so*"):
            if library.name not in wanted:
                library.unlink()
    for link in (folder / "_internal").iterdir():
        if link.is_symlink() and not link.exists():
            link.unlink()


FONTS = Path("/usr/share/fonts/truetype/dejavu")
FONT_TERMS = Path("/usr/share/doc/fonts-dejavu-core/copyright")
FONT_CONFIG = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><dir prefix="relative">.</dir><cachedir prefix="xdg">fontconfig</cachedir></fontconfig>
"""


def fonts(folder: Path) -> None:
    """A font for systems that have none (Debian's DejaVu, with its terms); without it only the system's are used."""
    if not FONTS.is_dir() or not FONT_TERMS.exists():
        print("no DejaVu font here (package fonts-dejavu-core): the download goes without a font of its own")
        return
    place = folder / "fonts"
    place.mkdir()
    for name in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSansMono.ttf"):
        shutil.copy2(FONTS / name, place)
    shutil.copy2(FONT_TERMS, place / "TERMS.txt")
    (place / "fonts.conf").write_text(FONT_CONFIG, "utf-8")


def complete(folder: Path) -> None:
    """Put beside the program what a desktop needs to show it, and the words on how to start it."""
    shutil.copy2(ROOT / "LICENSE", folder)
    shutil.copy2(HERE / "READ-ME.txt", folder)
    if sys.platform.startswith("linux"):
        shutil.copy2(ROOT / "clipmark/window/icons/clipmark.svg", folder)
        shutil.copy2(HERE / "clipmark.desktop", folder)
        shutil.copy2(HERE / "add-to-menu.sh", folder)
        (folder / "clipmark-window").symlink_to("clipmark")
        fonts(folder)


def pack(folder: Path) -> Path:
    """One file of the folder, named by version and system."""
    version = re.findall(r'__version__ = "(.+)"', (ROOT / "clipmark" / "__init__.py").read_text("utf-8"))[0]
    name = f"clipmark-{version}-{platform.system().lower()}-{platform.machine().lower()}"
    kind = "zip" if sys.platform == "win32" else "gztar"
    return Path(shutil.make_archive(str(OUT / name), kind, folder.parent, folder.name))


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--keep", action="store_true", help="keep the environment for the next build")
    keep = parser.parse_args().keep
    if not keep:
        shutil.rmtree(WORK, ignore_errors=True)
    WORK.mkdir(parents=True, exist_ok=True)
    OUT.mkdir(exist_ok=True)
    folder = gather(python())
    thin(folder)
    complete(folder)
    packed = pack(folder)
    size = sum(part.stat().st_size for part in folder.rglob("*") if part.is_file() and not part.is_symlink())
    print(f"{packed} ({packed.stat().st_size / 1e6:.0f} MB, unpacked {size / 1e6:.0f} MB)")
    if not keep:
        shutil.rmtree(WORK, ignore_errors=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
