"""The same inputs give the same bytes: in another zone, locale, folder, order of hashes, with one worker or two.

On a processor of another kind too: without its vector instructions sums come out otherwise in their last digits.

Each run is a process of its own that types a season's commands; what it wrote is compared file by file, PDFs too.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from numpy._core._multiarray_umath import __cpu_dispatch__

from tests.hostile.small_season import LOG, NIGHT, PERIOD, Picture, environment, lay_out, picture

# Types commands one after the other, told how many cores there are.
DRIVER = """
import os, sys
os.cpu_count = lambda: {cores}
from pipeline.cli import run
from pipeline.reports import rendering
rendering.LETTERS_A_PROCESS = 1
for words in {lines!r}:
    sys.argv = ["mutual-moon", *words]
    code = run()
    if code:
        sys.exit(code)
"""
# The C library's sines without fused products; libraries of other systems do not know the variable.
WITHOUT_FUSED = "glibc.cpu.hwcaps=-AVX2,-FMA,-FMA4,-AVX512F,-AVX512VL"
COMMANDS = (("plan",), ("letters",), ("night", NIGHT, "--drop", "QG8FEN"), ("year", "--months", "1", "--no-pdf"))


def made(desk: Path, start: Path, cores: int, **changes: str) -> Picture:
    """What the commands write at a desk, started from a folder."""
    lay_out(desk)
    places = () if start == desk else ("--season", str(desk / "stations" / "season.yaml"), "--out", str(desk / "out"))
    lines = [(*words, *places) for words in (*COMMANDS, ("review", str(desk / "march.csv"), "--no-pdf"))]
    driver = DRIVER.format(cores=cores, lines=lines)
    ended = subprocess.run(
        [sys.executable, "-c", driver], cwd=start, env=environment(**changes), capture_output=True, timeout=300
    )
    assert ended.returncode == 0, ended.stderr.decode()
    return picture(desk / "out")


@pytest.mark.slow
def test_zone_locale_hash_seed_folder_workers_and_processor_change_no_byte(tmp_path: Path) -> None:
    elsewhere = tmp_path / "some where else, Grüße"
    elsewhere.mkdir()
    near = made(
        tmp_path / "a", tmp_path / "a", 1, TZ="Pacific/Kiritimati", LC_ALL="C", LANG="C", PYTHONHASHSEED="1",
        PYTHONUTF8="0", OPENBLAS_NUM_THREADS="1",
    )  # fmt: skip
    far = made(
        elsewhere / "desk", elsewhere, 2, TZ="America/St_Johns", LC_ALL="de_DE.UTF-8", LANG="tr_TR.UTF-8",
        PYTHONHASHSEED="4242", XDG_CACHE_HOME=str(tmp_path / "cache"),
        NPY_DISABLE_CPU_FEATURES=" ".join(__cpu_dispatch__), OPENBLAS_CORETYPE="Prescott", GLIBC_TUNABLES=WITHOUT_FUSED,
        OPENBLAS_NUM_THREADS="2",
    )  # fmt: skip
    assert {path for path in near if near[path] != far.get(path)} == set()
    assert near.keys() == far.keys()
    pdfs = {path for path in near if path.endswith(".pdf")}
    assert {f"{PERIOD}/calendar/calendar.pdf", f"{PERIOD}/nights/{NIGHT}/sheets.pdf"} < pdfs
    assert len(pdfs) == 4
    assert {"year.html", "review.html"} < set(near)
    for content in near.values():
        assert str(tmp_path).encode() not in content
    assert LOG.encode() == (tmp_path / "a" / "march.csv").read_bytes()
