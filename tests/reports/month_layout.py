"""Sections laid out by the PDF engine without the rest of the calendar: their boxes, to measure what a page holds."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pipeline.plan.plan import Plan
from pipeline.reports import calendar, month_view, pdf
from pipeline.reports.agenda_view import agenda_view
from pipeline.reports.places import templates_folder
from pipeline.reports.views import Calendar
from tests.reports.invented_plan import make

POINT = 4 / 3  # in the engine's pixels


@dataclass(frozen=True)
class Line:
    """A text that is printed: words, size and edges in points; `css_class` is that of the element around it."""

    words: str
    size: float
    left: float
    right: float
    top: float
    bottom: float
    css_class: str


def month_pages(plan: Plan, kind: str = "month") -> list[Any]:
    """The page boxes of a plan's months, or of its agenda."""
    view = dataclasses.replace(
        calendar_beside(plan.inputs.season.report.paper),
        footer=calendar.footer_text(plan),
        months=month_view.month_pages(plan),
        agenda=agenda_view(plan),
    )
    return section_pages(view, kind)


@lru_cache
def calendar_beside(paper: str) -> Calendar:
    """Some calendar on a sheet, for what stands beside the sections that are looked at."""
    return calendar.calendar_view(make(partners=2, paper=paper))


def section_pages(view: Calendar, *kinds: str) -> list[Any]:
    """The page boxes of the sections of some kinds, in order."""
    import weasyprint

    head, body = calendar._html(view, for_pdf=True).split("<main>", 1)
    sections = [
        one
        for one in re.findall(r"<section.*?</section>", body, re.DOTALL)
        if any(f'class="{kind}' in one[:40] for kind in kinds)
    ]
    # What is linked to stands in the parts left out.
    alone = re.sub(r' href="#[^"]*"', "", f"{head}<main>{''.join(sections)}</main></body></html>")
    document = weasyprint.HTML(string=alone, base_url=templates_folder().as_uri() + "/").render(
        font_config=pdf._font_configuration()
    )
    return [page._page_box for page in document.pages]


def words(page: Any) -> str:
    """All that is printed on a page, margins too, with single spaces."""
    return " ".join(" ".join(line.words for line in lines(page)).split())


def with_class(box: Any, name: str) -> Iterator[Any]:
    """Boxes below whose element has a class."""
    seen = set()
    for one in box.descendants():
        element = getattr(one, "element", None)
        if element is not None and name in str(element.get("class", "")).split() and id(element) not in seen:
            seen.add(id(element))
            yield one


def lines(box: Any, css_class: str = "") -> Iterator[Line]:
    """Every text below a box; what is clipped away is told too."""
    own = str(box.element.get("class", "")) if getattr(box, "element", None) is not None else ""
    name = own or css_class
    for child in getattr(box, "children", ()):
        if hasattr(child, "text"):
            left, top = child.position_x / POINT, child.position_y / POINT
            right, bottom = left + child.width / POINT, top + child.height / POINT
            yield Line(child.text, child.style["font_size"] / POINT, left, right, top, bottom, name)
        else:
            yield from lines(child, name)
