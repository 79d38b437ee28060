"""Letters of a plan in memory, and plans with other words or stations: what the tests of this room share."""

from __future__ import annotations

import dataclasses
from functools import cache
from pathlib import Path

from pipeline.letters import making
from pipeline.letters.templates import Templates
from pipeline.letters.windows_page import windows_pdfs
from pipeline.plan.plan import Plan
from tests.letters.readers import body, opened


@cache
def our_templates() -> Templates:
    """Compiled once a process; they keep nothing of a letter."""
    return Templates()


def made_for(plan: Plan, call: str, with_pdf: bool = False, templates: Templates | None = None) -> making.Made:
    templates = templates or our_templates()
    page = page_of(plan, call, templates) if with_pdf else None
    return making.partner_files(plan.for_partner(call), templates, page)


def page_of(plan: Plan, call: str, templates: Templates) -> bytes:
    """One partner's `windows.pdf`."""
    (page,) = windows_pdfs(
        making.page_documents([plan.for_partner(call)], templates), Path("nowhere"), templates
    ).values()
    return page


def letter_text(made: making.Made) -> str:
    return body(opened(made.files["letter.eml"]), "plain").replace("\r\n", "\n").replace("\N{NO-BREAK SPACE}", " ")


def with_station(plan: Plan, call: str, **changes: object) -> Plan:
    stations = tuple(dataclasses.replace(s, **changes) if s.call == call else s for s in plan.inputs.partners)
    return dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, partners=stations))


def with_season(plan: Plan, **changes: object) -> Plan:
    season = dataclasses.replace(plan.inputs.season, **changes)
    return dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, season=season))


def with_letters(plan: Plan, **changes: object) -> Plan:
    return with_season(plan, letters=dataclasses.replace(plan.inputs.season.letters, **changes))
