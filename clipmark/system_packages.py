"""Names of system packages on Debian and Ubuntu, Fedora and Arch, and the commands that install them.

Which libraries are missing is read from the libraries themselves (machine.py); this list only translates names.
"""

from __future__ import annotations

import functools
import os
import shutil
from collections.abc import Sequence

from clipmark.children import run_tool

# library -> package, for (apt, dnf, pacman)
PACKAGES: dict[str, tuple[str, str, str]] = {
    "libEGL.so.1": ("libegl1", "libglvnd-egl", "libglvnd"),
    "libGL.so.1": ("libgl1", "libglvnd-glx", "libglvnd"),
    "libXcomposite.so.1": ("libxcomposite1", "libXcomposite", "libxcomposite"),
    "libXdamage.so.1": ("libxdamage1", "libXdamage", "libxdamage"),
    "libXfixes.so.3": ("libxfixes3", "libXfixes", "libxfixes"),
    "libXrender.so.1": ("libxrender1", "libXrender", "libxrender"),
    "libXtst.so.6": ("libxtst6", "libXtst", "libxtst"),
    "libasound.so.2": ("libasound2", "alsa-lib", "alsa-lib"),
    "libexpat.so.1": ("libexpat1", "expat", "expat"),
    "libgbm.so.1": ("libgbm1", "mesa-libgbm", "mesa"),
    "libnspr4.so": ("libnspr4", "nspr", "nspr"),
    "libnss3.so": ("libnss3", "nss", "nss"),
    "libnssutil3.so": ("libnss3", "nss", "nss"),
    "libplc4.so": ("libnspr4", "nspr", "nspr"),
    "libplds4.so": ("libnspr4", "nspr", "nspr"),
    "libsmime3.so": ("libnss3", "nss", "nss"),
    "libudev.so.1": ("libudev1", "systemd-libs", "systemd-libs"),
    "libxcb-dri3.so.0": ("libxcb-dri3-0", "libxcb", "libxcb"),
    "libxkbfile.so.1": ("libxkbfile1", "libxkbfile", "libxkbfile"),
    "libX11.so.6": ("libx11-6", "libX11", "libx11"),
    "libX11-xcb.so.1": ("libx11-xcb1", "libX11-xcb", "libx11"),
    "libXext.so.6": ("libxext6", "libXext", "libxext"),
    "libXrandr.so.2": ("libxrandr2", "libXrandr", "libxrandr"),
    "libSM.so.6": ("libsm6", "libSM", "libsm"),
    "libdbus-1.so.3": ("libdbus-1-3", "dbus-libs", "dbus"),
    "libdrm.so.2": ("libdrm2", "libdrm", "libdrm"),
    "libfontconfig.so.1": ("libfontconfig1", "fontconfig", "fontconfig"),
    "libfreetype.so.6": ("libfreetype6", "freetype", "freetype2"),
    "libglib-2.0.so.0": ("libglib2.0-0", "glib2", "glib2"),
    "libgthread-2.0.so.0": ("libglib2.0-0", "glib2", "glib2"),
    "libgssapi_krb5.so.2": ("libgssapi-krb5-2", "krb5-libs", "krb5"),
    "libpulse.so.0": ("libpulse0", "pulseaudio-libs", "libpulse"),
    "libxcb.so.1": ("libxcb1", "libxcb", "libxcb"),
    "libxcb-cursor.so.0": ("libxcb-cursor0", "xcb-util-cursor", "xcb-util-cursor"),
    "libxcb-icccm.so.4": ("libxcb-icccm4", "xcb-util-wm", "xcb-util-wm"),
    "libxcb-image.so.0": ("libxcb-image0", "xcb-util-image", "xcb-util-image"),
    "libxcb-keysyms.so.1": ("libxcb-keysyms1", "xcb-util-keysyms", "xcb-util-keysyms"),
    "libxcb-randr.so.0": ("libxcb-randr0", "libxcb", "libxcb"),
    "libxcb-render.so.0": ("libxcb-render0", "libxcb", "libxcb"),
    "libxcb-render-util.so.0": ("libxcb-render-util0", "xcb-util-renderutil", "xcb-util-renderutil"),
    "libxcb-shape.so.0": ("libxcb-shape0", "libxcb", "libxcb"),
    "libxcb-shm.so.0": ("libxcb-shm0", "libxcb", "libxcb"),
    "libxcb-sync.so.1": ("libxcb-sync1", "libxcb", "libxcb"),
    "libxcb-util.so.1": ("libxcb-util1", "xcb-util", "xcb-util"),
    "libxcb-xfixes.so.0": ("libxcb-xfixes0", "libxcb", "libxcb"),
    "libxcb-xkb.so.1": ("libxcb-xkb1", "libxcb", "libxcb"),
    "libxkbcommon.so.0": ("libxkbcommon0", "libxkbcommon", "libxkbcommon"),
    "libxkbcommon-x11.so.0": ("libxkbcommon-x11-0", "libxkbcommon-x11", "libxkbcommon-x11"),
}
_RENAMED = frozenset({"libasound2", "libglib2.0-0"})  # where times have 64 bits
FONT = ("fonts-dejavu-core", "dejavu-sans-fonts", "ttf-dejavu")
_MANAGERS = (
    ("apt-get", ("apt-get", "install", "-y", "--no-install-recommends"), ("apt-get", "update")),
    ("dnf", ("dnf", "install", "-y"), None),
    ("pacman", ("pacman", "-S", "--noconfirm", "--needed"), None),
)


def manager() -> int | None:
    """Position of this system's package manager in the tables above; None on Windows, macOS and others."""
    return next((i for i, (name, *_) in enumerate(_MANAGERS) if shutil.which(name)), None)


def package(names: tuple[str, str, str]) -> str:
    """The name of these three that this system's package manager knows."""
    name = names[manager() or 0]
    return f"{name}t64" if name in _RENAMED and _t64() else name


@functools.cache
def _t64() -> bool:
    """Whether this Debian or Ubuntu is of those (13, 24.04 and later) that renamed libraries to …t64."""
    asked = shutil.which("dpkg-query")
    if asked is None:
        return False
    done = run_tool([asked, "-W", "lib*t64"])
    return bool(done.stdout.strip())


def install(packages: Sequence[str]) -> list[list[str]]:
    """Commands that install system packages here, to be run in this order; empty where there is no known manager."""
    place = manager()
    if place is None or not packages:
        return []
    _, verb, first = _MANAGERS[place]
    geteuid = getattr(os, "geteuid", None)
    asking = [] if geteuid is None or geteuid() == 0 else ["sudo"]
    commands = [[*asking, *first]] if first else []
    return [*commands, [*asking, *verb, *packages]]
