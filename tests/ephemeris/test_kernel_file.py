"""A kernel that is not there or is no kernel ends in one sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.ephemeris.timescale import EphemerisUnavailable, load_kernel


def test_a_missing_kernel_is_told_without_jargon(tmp_path: Path) -> None:
    with pytest.raises(EphemerisUnavailable, match=r"there is no ephemeris file .*none\.bsp; write ephemeris\.file"):
        load_kernel(str(tmp_path / "none.bsp"))


def test_a_file_that_is_no_kernel_is_named(tmp_path: Path) -> None:
    other = tmp_path / "season.yaml"
    other.write_text("home: QM7TOR\n", encoding="utf-8")
    with pytest.raises(EphemerisUnavailable, match=r"season\.yaml cannot be read as a JPL kernel"):
        load_kernel(str(other))
