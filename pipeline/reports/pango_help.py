"""Where WeasyPrint's text engine Pango comes from on each system: the one sentence that says what to type.

Package names by WeasyPrint's page "First steps"; library names by its `text/ffi.py`. Run as a program it prints the
Debian packages that have to be installed, or nothing.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import MutableMapping, Sequence
from pathlib import Path

# Each library that WeasyPrint opens on Linux, and the Debian package that holds it.
DEBIAN_PACKAGES = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
}
# By sys.platform, or by ID or a word of ID_LIKE in os-release; {} is sudo.
COMMANDS = {
    "darwin": "brew install pango",
    "win32": r"C:\msys64\usr\bin\pacman.exe -S --noconfirm mingw-w64-ucrt-x86_64-pango",
    "alpine": "{}apk add " + " ".join("so:" + library for library in DEBIAN_PACKAGES),
    "debian": "{}apt-get install -y " + " ".join(DEBIAN_PACKAGES.values()),
    "fedora": "{}dnf install -y pango",
    "arch": "{}pacman -S --noconfirm pango",
    "suse": "{}zypper install -y libpango-1_0-0 libharfbuzz-subset0",
}
# Homebrew's two places and MacPorts', into which a Python from elsewhere does not look.
MAC_FOLDERS = ("/opt/homebrew/lib", "/usr/local/lib", "/opt/local/lib")


def system_names(path: Path = Path("/etc/os-release")) -> list[str]:
    """ID and the words of ID_LIKE of this Linux, [] elsewhere."""
    if not path.exists():
        return []
    lines = [line.partition("=") for line in path.read_text(encoding="utf-8").splitlines()]
    values = {key: value.strip("\"'") for key, _, value in lines}
    return f"{values.get('ID', '')} {values.get('ID_LIKE', '')}".split()


def sudo() -> str:
    """'sudo ' for whoever is not root, '' for root and where there is none."""
    return "" if not hasattr(os, "geteuid") or os.geteuid() == 0 else "sudo "


def pango_sentence(platform: str, names: Sequence[str], prefix: str) -> str:
    """What brings Pango to a system: `platform` as sys.platform, `names` as system_names(), `prefix` as sudo()."""
    command = next((COMMANDS[name] for name in (platform, *names) if name in COMMANDS), "")
    if not command:
        return "install Pango 1.44 or newer and HarfBuzz with its subset library to have it"
    before = "install MSYS2 from https://www.msys2.org, then type" if platform == "win32" else "type"
    return f"{before} `{command.format(prefix)}` to have it"


def sentence_for_this_system() -> str:
    return pango_sentence(sys.platform, system_names(), sudo())


def look_into_mac_folders(platform: str, environment: MutableMapping[str, str]) -> None:
    """Lets WeasyPrint find its libraries on a Mac: cffi asks ctypes.util, which reads this variable at each search."""
    if platform == "darwin":
        name = "DYLD_FALLBACK_LIBRARY_PATH"
        before = [folder for folder in environment.get(name, "").split(":") if folder]
        more = [folder for folder in (*MAC_FOLDERS, "/usr/lib") if folder not in before]
        environment[name] = ":".join([*before, *more])


def debian_packages_missing() -> list[str]:
    """The packages whose libraries do not load here, in the order of the table; [] on other systems than Linux."""
    missing = []
    for library, package in DEBIAN_PACKAGES.items() if sys.platform == "linux" else ():
        try:
            ctypes.CDLL(library)
        except OSError:
            missing.append(package)
    return missing


if __name__ == "__main__":
    print(*debian_packages_missing())
