"""`sites` as a user types it: page, table and the words that README prints; and what it says without sites."""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import pytest

from tests.conftest import Type
from tests.sheets.print_marks import pages_of

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.fixture
def demo(mutual_moon: Type) -> Type:
    shutil.copytree(ROOT / "stations", "stations")
    return mutual_moon


def readme_block(begin: str) -> str:
    """The block of README's text that begins so."""
    return next(block for block in re.findall(r"```\w*\n(.*?)```", README, re.DOTALL) if block.startswith(begin))


def test_readme_prints_what_the_command_says(demo: Type) -> None:
    home, season = Path("stations/qm7tor.yaml"), Path("stations/season.yaml")
    home.write_text(home.read_text("utf-8") + readme_block("sites:"), "utf-8")
    season.write_text(season.read_text("utf-8").replace("months: [2027-03]", "dates: 2027-03-12/2027-03-27"), "utf-8")
    code, out, _ = demo("sites")
    assert code == 0
    # Plan numbers hang on every input; the block is what stands before the files.
    told = re.sub(r"plan \w{4}\n", "plan\n", out.split("\nWritten:")[0])
    assert re.sub(r"plan \w{4}\n", "plan\n", readme_block("QM7TOR, nights of 2027-03-12")).strip() == told.strip()
    with Path("out/sites.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert all(f"`{column}`" in README for column in rows[0])
    assert {row["site"] for row in rows} == {"Basalt Tor", "Salt Beach"}
    assert sum(row["best"] == "True" for row in rows) == len({row["night"] for row in rows if row["reason"]})
    html = Path("out/sites.html").read_text("utf-8")
    for words in ("Where to set up", "Firm sand only at low water.", "what was agreed plays no part"):
        assert words in html
    pages = pages_of(Path("out/sites.pdf").read_bytes())
    assert len(pages) == 1
    assert pages[0].outside(14.0) == 0
    assert not pages[0].overprints()


def test_without_sites_it_says_how_to_name_them(demo: Type) -> None:
    code, out, err = demo("sites", "--no-pdf")
    assert (code, out) == (2, "")
    assert "qm7tor.yaml: home has no sites to compare; name other places below `sites`" in err
    assert not Path("out").exists()
