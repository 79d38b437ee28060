"""Where to set up in words, and as files: page, and a table of nights and sites.

From finished `Sites`, by the leaflet's one way.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from pipeline.reports.folding import WIDTH, folded
from pipeline.reports.leaflet import Leaflet, leaflet_files, write_leaflet, written_lines
from pipeline.reports.tables import csv_text
from pipeline.reports.views import PAPERS
from pipeline.wording import formats
from pipeline.wording.sites import assumed_words, choice_words, hours_words, proof_words, why_words

if TYPE_CHECKING:
    from pipeline.outlook.site_choice import Chosen
    from pipeline.outlook.sites import SiteNights, Sites

NAME = "sites"
LAST_HEADING = "What was assumed"
# More sites than this need a sheet that lies.
MOST_UPRIGHT = 4
NOTHING = "–"


@dataclass(frozen=True)
class SiteRow:
    """One site over the whole span in words; `best` marks the row of the best choice."""

    name: str
    contacts: str
    nights: str
    hours: str
    lost: str
    way: str
    notes: str
    is_choice: bool = False


@dataclass(frozen=True)
class SiteCell:
    """One night at one site: contacts by itself, hours lost to the skyline."""

    contacts: str
    lost: str
    is_best: bool
    is_chosen: bool


@dataclass(frozen=True)
class SiteNight:
    """One night: its date, a cell a site, the best site's name and why."""

    date: str
    is_weekend: bool
    cells: tuple[SiteCell, ...]
    best: str
    why: str


@dataclass(frozen=True)
class SitesView(Leaflet):
    """What the template is given."""

    head: str
    lead: str
    proof: str
    rows: tuple[SiteRow, ...]
    names: tuple[str, ...]
    nights: tuple[SiteNight, ...]
    idle: str
    assumed: tuple[str, ...]
    warnings: tuple[str, ...]


def sites_view(sites: Sites) -> SitesView:
    """The page in words."""
    home, period, season = sites.home, sites.period, sites.inputs.season
    title = formats.period_title(period.first_night, period.last_night)
    idle = [date for date, best in zip(period.dates, sites.best, strict=True) if best is None]
    return SitesView(
        title=f"Where to set up: {home.call}, {title}",
        author=home.operator or home.call,
        head=f"{home.call} · {title} · plan {sites.number}",
        footer=f"Mutual Moon · where to set up · {home.call} · {title} · plan {sites.number}",
        number=sites.number,
        paper=PAPERS[season.report.paper],
        dated=period.first_night,
        last_heading=LAST_HEADING,
        turned="landscape" if len(sites.sites) > MOST_UPRIGHT else "portrait",
        lead=choice_words(sites),
        proof=proof_words(sites.choice),
        rows=(_choice_row(sites), *(_site_row(sites, one) for one in sites.sites)),
        names=tuple(one.site.name for one in sites.sites),
        nights=tuple(_night(sites, night) for night, best in enumerate(sites.best) if best is not None),
        idle=f"Nobody can be worked at any site on {formats.date_runs(idle)}." if idle else "",
        assumed=tuple(assumed_words(home, season.policy)),
        warnings=sites.inputs.warnings,
    )


def _dates(sites: Sites, chosen: Chosen) -> str:
    return formats.date_runs([sites.period.dates[night] for night in chosen.at]) or NOTHING


def _choice_row(sites: Sites) -> SiteRow:
    choice = sites.choice
    way = sum(2.0 * sites.sites[site].site.hours_to_get_there for site in choice.at.values())
    return SiteRow(
        name="The best choice a night",
        contacts=formats.contacts(choice.contacts),
        nights=_dates(sites, choice),
        hours="",
        lost="",
        way=hours_words(way),
        notes="",
        is_choice=True,
    )


def _site_row(sites: Sites, one: SiteNights) -> SiteRow:
    return SiteRow(
        name=one.site.name,
        contacts=formats.contacts(one.month.contacts),
        nights=_dates(sites, one.month),
        hours=f"{one.hours.sum():.0f} h",
        lost=f"{one.lost_hours.sum():.0f} h",
        way=hours_words(2.0 * one.site.hours_to_get_there * len(one.month.at)),
        notes=one.site.notes or "",
    )


def _night(sites: Sites, night: int) -> SiteNight:
    best, date = sites.best[night], sites.period.dates[night]
    chosen = sites.choice.at.get(night)
    cells = tuple(
        SiteCell(
            contacts=formats.contacts(one.contacts[night]) if one.contacts[night] > 0.0 else NOTHING,
            lost=_lost(float(one.lost_hours[night])),
            is_best=best is not None and best.best == number,
            is_chosen=chosen == number,
        )
        for number, one in enumerate(sites.sites)
    )
    name = "" if best is None else sites.sites[best.best].site.name
    return SiteNight(formats.day(date), date.weekday() >= 4, cells, name, why_words(best, sites.sites))


def _lost(hours: float) -> str:
    return f"−{hours:.1f} h" if hours >= 0.05 else ""


def sites_table(sites: Sites) -> pd.DataFrame:
    """A row a night and site; columns as README names them."""
    rows = []
    for night, (date, best) in enumerate(zip(sites.period.dates, sites.best, strict=True)):
        for number, one in enumerate(sites.sites):
            is_best = best is not None and best.best == number
            rows.append(
                {
                    "night": date,
                    "site": one.site.name,
                    "contacts_expected": float(one.contacts[night]),
                    "contacts_less_road": float(one.net[night]),
                    "partners_usable": " ".join(one.usable[night]),
                    "chance": float(one.chance[night]),
                    "window_hours": float(one.hours[night]),
                    "lost_to_skyline_hours": float(one.lost_hours[night]),
                    "best": is_best,
                    "chosen": sites.choice.at.get(night) == number,
                    "reason": why_words(best, sites.sites) if is_best else None,
                }
            )
    return pd.DataFrame(rows)


def write_sites(sites: Sites, out_folder: Path, with_pdf: bool = True) -> list[Path]:
    """Writes the files into `out_folder` itself; returns them, the one to open first in front.

    Raises PdfUnavailable where the PDF engine does not load, OutputBlocked where a viewer holds a file.
    """
    tables = {f"{NAME}.csv": csv_text(sites_table(sites))}
    files = leaflet_files(sites_view(sites), "sites.html.jinja", NAME, tables, with_pdf)
    return write_leaflet(out_folder, NAME, files)


def _best_lines(view: SitesView) -> list[str]:
    """A line a night with its best site; one line where they all say the same."""
    longest = max((len(night.best) for night in view.nights), default=0)
    if len(view.nights) > 1 and len({(night.best, night.why) for night in view.nights}) == 1:
        same = view.nights[0]
        return [f"  on each of {len(view.nights)} nights {same.best}, {same.why}"]
    return [f"  {night.date:10}  {night.best:{longest}}  {night.why}" for night in view.nights]


def sites_text(sites: Sites, files: list[Path], width: int = WIDTH) -> str:
    """What the command says when it is done; the last line names the file to open."""
    view = sites_view(sites)
    across = max(len(row.name) for row in view.rows)
    period = sites.period
    lines = [f"{sites.home.call}, nights of {period.first_night} to {period.last_night}, plan {sites.number}"]
    lines += ["", f"  {'':{across}}  contacts  lost to skyline  on the road  nights"]
    for row in view.rows:
        lines.append(f"  {row.name:{across}}  {row.contacts:>8}  {row.lost:>15}  {row.way:>11}  {row.nights}")
    lines += ["", view.lead, view.proof, "", "The best site of each night alone, the road taken off:"]
    lines += _best_lines(view)
    lines += [f"  {view.idle}"] if view.idle else []
    lines += ["", *written_lines(files)]
    return folded("\n".join(lines), width)
