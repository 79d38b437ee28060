"""Pages beside the plan on a telephone's glass: nothing is cut off, and columns stand beside each other."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import pytest

from pipeline.reports import browser
from pipeline.reports.leaflet import leaflet_html
from pipeline.reports.need_view import need_view
from tests.need.test_need import need
from tests.sheets.telephone import telephone

pytestmark = pytest.mark.skipif(
    browser.find() is None or sys.platform == "win32", reason="needs a browser that is driven over pipes"
)

# What stands beyond the glass outside a box that is pushed sideways, and cells whose words run into the next cell.
BEYOND = """[...document.querySelectorAll('body *')].filter(one => one.getBoundingClientRect().right > innerWidth + 1
  && getComputedStyle(one.closest('.scroll') || document.body).overflowX !== 'auto').length"""
RUN_OVER = "[...document.querySelectorAll('th, td')].filter(one => one.scrollWidth > one.clientWidth + 1).length"
FIRST_COLUMN = "getComputedStyle(document.querySelector('.cells tbody th')).backgroundColor"


def test_need_on_a_narrow_glass_and_in_the_dark(tmp_path: Path) -> None:
    """320 pixels: the width at which WCAG 2.2, 1.4.10 asks for pages without pushing sideways; data tables excepted."""
    page = tmp_path / "need.html"
    page.write_text(leaflet_html(need_view(need()), "need.html.jinja", for_pdf=False), encoding="utf-8")
    program = browser.find()
    assert program
    with telephone(program, tmp_path / "browser") as glass:
        glass.open(page, dt.datetime(2027, 3, 1, tzinfo=dt.UTC), width=320)
        assert glass.run("document.documentElement.scrollWidth") == 320
        assert glass.run(BEYOND) == 0
        assert glass.run(RUN_OVER) == 0
        light = glass.run(FIRST_COLUMN)
        glass.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": "dark"}])
        assert (light, glass.run(FIRST_COLUMN)) == ("rgb(255, 255, 255)", "rgb(20, 25, 31)")
