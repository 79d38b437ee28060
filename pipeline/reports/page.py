"""Pages as HTML from the templates: for the PDF engine with fonts by file, for any browser with fonts inside.

What no stylesheet can know, the sheet's size and margins, is made here from the season's paper.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Any, Literal

from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_eval_context
from jinja2.nodes import EvalContext
from markupsafe import Markup

from pipeline.reports import fonts
from pipeline.reports.clocks import time_element, whose
from pipeline.reports.light_columns import in_halves, in_runs
from pipeline.reports.light_drawings import light
from pipeline.reports.places import templates_folder
from pipeline.reports.unbroken import unbroken
from pipeline.reports.views import Paper

# A place in the HTML that no page can contain, filled once the glyphs in use are known.
FONTS_HERE = "/* fonts */"


@pass_eval_context
def printed(context: EvalContext, value: Any) -> Any:
    """What a template prints: words of a page are held together; plain text, and what is markup already, stays."""
    return unbroken(value) if context.autoescape and type(value) is str else value


@cache
def environment() -> Environment:
    """Templates with autoescape; an undefined name is an error and never an empty place on paper."""
    made = Environment(
        loader=FileSystemLoader(templates_folder()),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=printed,
    )
    made.filters.update(in_halves=in_halves, in_runs=in_runs)
    return made


def page_html(template: str, for_pdf: bool, page_css: str, **values: Any) -> str:
    """A template filled with `values`, the size of its sheet and its fonts; it is told whether it is for the PDF.

    Only a screen has readers who switch clocks and pick partners, and the PDF engine pays by the element: there
    `shown` gives the words alone and `whose` nothing.
    """
    choices = {"shown": str, "whose": _nobody} if for_pdf else {"shown": time_element, "whose": whose}
    text = (
        environment()
        .get_template(template)
        .render(for_pdf=for_pdf, fonts_here=Markup(FONTS_HERE), page_css=Markup(page_css), **choices, **values)
    )
    if for_pdf:
        return light(text.replace(FONTS_HERE, fonts.faces_by_file(), 1))
    return text.replace(FONTS_HERE, fonts.faces_embedded(text), 1)


def _nobody(_: object) -> str:
    return ""


def page_rule(paper: Paper, turned: Literal["portrait", "landscape"] = "portrait", name: str = "") -> str:
    """The `@page` rule of a paper; `name` is that of the pages it is for, all where it is empty."""
    margins = f"{paper.top:g}pt {paper.side:g}pt {paper.bottom:g}pt"
    return f"@page {f'{name} ' if name else ''}{{ size: {paper.css_name} {turned}; margin: {margins}; }}"


def margin_rule(footer: str, head: str = "", open_answers: str = "") -> str:
    """The `@page` rule of what stands in every page's margins, as literal text: browsers know no running strings.

    `footer` at the foot, `head` and `open_answers` at the top. The stylesheet says how they look.
    """
    boxes = {"bottom-left": footer, "top-left": head, "top-right": open_answers}
    rules = [f"@{box} {{ content: {_css_string(text)}; }}" for box, text in boxes.items() if text]
    return f"@page {{ {' '.join(rules)} }}"


def count_rule(pattern: str) -> str:
    """The `@page` rule of the count at the foot, by words such as `page {page} of {pages}`."""
    parts = re.split(r"\{(pages?)\}", pattern)
    content = " ".join(f"counter({part})" if place % 2 else _css_string(part) for place, part in enumerate(parts))
    return f"@page {{ @bottom-right {{ content: {content}; }} }}"


def _css_string(text: str) -> str:
    """A string of CSS: whatever might end it, or the style element around it, by its code point."""
    return '"' + "".join(f"\\{ord(one):x} " if one in '"\\<>&' or ord(one) < 32 else one for one in text) + '"'
