"""What a machine without Pango is told, for each system."""

from ctypes.macholib.dyld import dyld_find
from pathlib import Path

import pytest

from pipeline.reports import pango_help

DEBIAN = 'PRETTY_NAME="Debian GNU/Linux 12 (bookworm)"\nID=debian\nVERSION_ID="12"\n'
UBUNTU = 'ID=ubuntu\nID_LIKE=debian\nNAME="Ubuntu"\n'
MINT = "ID=linuxmint\nID_LIKE='ubuntu debian'\n"
FEDORA = 'ID=fedora\nNAME="Fedora Linux"\n'
ROCKY = 'ID="rocky"\nID_LIKE="rhel centos fedora"\n'
TUMBLEWEED = 'ID="opensuse-tumbleweed"\nID_LIKE="opensuse suse"\n'


@pytest.mark.parametrize(
    ("release", "command"),
    # The packages that WeasyPrint's "First steps" page names for each system.
    [
        (DEBIAN, "type `sudo apt-get install -y libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0`"),
        (UBUNTU, "type `sudo apt-get install -y libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0`"),
        (MINT, "type `sudo apt-get install -y libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0`"),
        (FEDORA, "type `sudo dnf install -y pango`"),
        (ROCKY, "type `sudo dnf install -y pango`"),
        ("ID=arch\n", "type `sudo pacman -S --noconfirm pango`"),
        ("ID=alpine\n", "so:libpangoft2-1.0.so.0"),
        (TUMBLEWEED, "type `sudo zypper install -y libpango-1_0-0"),
        ("ID=nixos\n", "install Pango 1.44 or newer"),
    ],
)
def test_one_command_brings_pango_to_this_linux(tmp_path: Path, release: str, command: str) -> None:
    path = tmp_path / "os-release"
    path.write_text(release, encoding="utf-8")
    said = pango_help.pango_sentence("linux", pango_help.system_names(path), "sudo ")
    assert command in said
    assert said.endswith(" to have it")


def test_root_types_no_sudo() -> None:
    assert "`apt-get" in pango_help.pango_sentence("linux", ["debian"], "")


def test_mac_and_windows_have_their_own_command() -> None:
    assert pango_help.pango_sentence("darwin", [], "sudo ") == "type `brew install pango` to have it"
    said = pango_help.pango_sentence("win32", [], "sudo ")
    assert "mingw-w64-ucrt-x86_64-pango" in said
    assert "sudo" not in said
    assert "{" not in said


def test_missing_os_release_means_no_names(tmp_path: Path) -> None:
    assert pango_help.system_names(tmp_path / "none") == []


def test_debian_is_asked_for_the_missing_packages_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    def open_library(name: str) -> None:
        if "subset" in name:
            raise OSError(name)

    monkeypatch.setattr(pango_help.ctypes, "CDLL", open_library)
    monkeypatch.setattr(pango_help.sys, "platform", "linux")
    assert pango_help.debian_packages_missing() == ["libharfbuzz-subset0"]
    monkeypatch.setattr(pango_help.sys, "platform", "darwin")
    assert pango_help.debian_packages_missing() == []


def test_mac_folders_are_searched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Python's own search for a library on a Mac, which cffi asks; it runs on every system.
    (tmp_path / "libpango-1.0.dylib").touch()
    monkeypatch.setattr(pango_help, "MAC_FOLDERS", (str(tmp_path),))
    environment = {"DYLD_FALLBACK_LIBRARY_PATH": "/elsewhere"}
    pango_help.look_into_mac_folders("linux", environment)
    assert environment == {"DYLD_FALLBACK_LIBRARY_PATH": "/elsewhere"}
    for _ in range(2):
        pango_help.look_into_mac_folders("darwin", environment)
    assert environment == {"DYLD_FALLBACK_LIBRARY_PATH": f"/elsewhere:{tmp_path}:/usr/lib"}
    assert dyld_find("libpango-1.0.dylib", env=environment) == str(tmp_path / "libpango-1.0.dylib")
