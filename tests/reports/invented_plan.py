"""An invented plan for the tests of the pages: a Moon that runs on a plain circle, so that no ephemeris is needed.

Nothing here is astronomy to trust; it only has the shape of a plan: windows across midnight and noon, a partner
without any, clock changes, names that would break a page.
"""

from __future__ import annotations

import calendar
import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from pipeline.absence.causes import Absence, Cause, EarnsTooLittle, WithoutWindow
from pipeline.agenda.agenda_table import COLUMNS
from pipeline.agenda.fall_backs import FallBack
from pipeline.agenda.notes import Proof
from pipeline.inputs.model import Antenna, BandEquipment, Partner, Position, Report, Season, Station
from pipeline.outlook.carpets import QUARTERS, Carpet
from pipeline.outlook.facts import Fact, FactKind
from pipeline.outlook.month_course import MonthCourse
from pipeline.outlook.usable_windows import UsableWindow
from pipeline.plan.plan import Plan
from pipeline.record.inputs import Inputs
from pipeline.windows.nights import Nights, dates_of
from pipeline.windows.no_window import NoWindow, NoWindowKind

EQUIPMENT = {
    "power_w": 40.0,
    "noise_figure_db": 0.8,
    "loss_before_preamplifier_db": 0.1,
    "spillover_fraction": 0.05,
    "polarization": "rotatable",
    "pointing_error_deg": 0.2,
    "frequency_accuracy_hz": 2.0,
    "modes": ("Q65", "CW"),
}

SITES = [
    ("QF4LUM", "Lumme Fjord", "Aino Sarel", 60.90, 23.40, "Europe/Helsinki", 2.4),
    ("QJ2KAW", "Kawa Bluff", None, 35.7, 139.8, "Asia/Tokyo", 1.2),
    ("QZ5KAR", "Karst Gate", "Tomas Veld", -33.9, 18.5, "Africa/Johannesburg", 3.0),
    ("QN1PIK", "Pike Hollow", "Rae Linden", 42.4, -71.6, "America/New_York", 2.4),
    ("QG8FEN", "Fen Cross", "Oda Marsh", 52.4, 0.2, "Europe/London", 1.8),
    ("QK3RED", "Red Sand", None, -23.7, 133.9, "Australia/Darwin", 1.5),
    ("QX6ICE", "Ice Edge", "Siv Holm", 70.1, 25.8, "Europe/Oslo", 1.2),
    ("QI9TEA", "Tea Hills", "Ravi Mehr", 26.2, 91.7, "Asia/Kolkata", 2.0),
    ("QW7TID", "Tide Rock", None, -41.3, 174.8, None, 1.8),
    ("QA1LAV", "Lava Field", "Jon Brek", 64.1, -21.9, "Atlantic/Reykjavik", 2.2),
    ("QB2SAL", "Salt Flat", None, 40.8, -113.8, "America/Denver", 3.7),
    ("QC3PAL", "Palm Reef", None, 21.3, -157.8, "Pacific/Honolulu", 1.9),
    ("QD4ORC", "Orchard", None, -38.0, 145.2, "Australia/Melbourne", 2.4),
]


def station(
    call: str,
    name: str,
    operator: str | None,
    latitude_deg: float,
    longitude_deg: float,
    time_zone: str | None,
    dish_diameter_m: float,
) -> Station:
    equipment = BandEquipment(antenna=Antenna(dish_diameter_m=dish_diameter_m), **EQUIPMENT)
    return Station(
        call=call,
        name=name,
        operator=operator,
        position=Position(latitude_deg, longitude_deg, 100.0),
        time_zone=time_zone,
        bands={"3cm": equipment},
        file=f"{call.lower()}.yaml",
        assumed=("available", "bands.3cm.noise_figure_db"),
    )


def moon(hours: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(declination_deg, hour angle at Greenwich in degrees) of the invented Moon."""
    declination = 27.0 * np.sin(2 * np.pi * (hours / 24.0 - 8.0) / 27.3)
    return declination, (hours * (360.0 / TURN_H) + 40.0) % 360.0


TURN_H = 24.84


def nights(first: dt.date, last: dt.date, zone: ZoneInfo, home: Station) -> Nights:
    """The passages of the invented Moon over home: highest where its hour angle there is 0, lowest half a turn off."""
    epoch = dt.datetime(2027, 3, 1, tzinfo=dt.UTC)
    begin = (dt.datetime.combine(first, dt.time(), tzinfo=zone).astimezone(dt.UTC) - epoch) / dt.timedelta(hours=1)
    ahead = (40.0 + home.position.longitude_deg) / 360.0
    turns = np.arange(np.floor(begin / TURN_H + ahead) - 1, begin / TURN_H + ahead + (last - first).days + 4)
    highest = [epoch + dt.timedelta(hours=float(hour)) for hour in (turns - ahead) * TURN_H]
    dates = dates_of(highest, zone)
    mine = [place for place, date in enumerate(dates) if first <= date <= last]
    half = dt.timedelta(hours=TURN_H / 2)
    edges = [highest[place] - half for place in (*mine, mine[-1] + 1)]
    return Nights(
        first, last, zone, tuple(dates[k] for k in mine), tuple(edges), tuple(highest[place] for place in mine)
    )


def look(site: Station, hours: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(azimuth_deg, elevation_deg) from a site."""
    declination, greenwich = moon(hours)
    angle = np.radians(greenwich + site.position.longitude_deg)
    latitude, slope = np.radians(site.position.latitude_deg), np.radians(declination)
    up = np.sin(latitude) * np.sin(slope) + np.cos(latitude) * np.cos(slope) * np.cos(angle)
    east = -np.cos(slope) * np.sin(angle)
    north = np.sin(slope) * np.cos(latitude) - np.cos(slope) * np.sin(latitude) * np.cos(angle)
    return np.degrees(np.arctan2(east, north)) % 360, np.degrees(np.arcsin(np.clip(up, -1, 1)))


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(int), [0]])))
    return list(zip(edges[::2], edges[1::2] - 1, strict=True))


def make(
    first: dt.date = dt.date(2027, 3, 1),
    last: dt.date | None = None,
    partners: int = 8,
    paper: str = "A4",
    home: Station | None = None,
    sites: list[Station] | None = None,
    blind: str = "QX6ICE",
) -> Plan:
    last = last or first.replace(day=calendar.monthrange(first.year, first.month)[1])
    home = home or station("QM7TOR", "Basalt Tor", "Ines Calder", -34.50, -55.80, "America/Montevideo", 1.8)
    sites = sites if sites is not None else [station(*row) for row in SITES[:partners]]
    zone = ZoneInfo(home.time_zone or "UTC")
    period = nights(first, last, zone, home)
    begin = period.start
    span_h = (period.end - begin).total_seconds() / 3600
    base_h = (begin - dt.datetime(2027, 3, 1, tzinfo=dt.UTC)).total_seconds() / 3600
    hours = base_h + np.arange(0, span_h, 1 / 60)
    home_azimuth, home_elevation = look(home, hours)
    rows = []
    for site in sites:
        azimuth, elevation = look(site, hours)
        mask = (home_elevation > 5) & (elevation > 0) & (site.call != blind)
        for low, high in _runs(mask):
            start = begin + dt.timedelta(hours=hours[low] - base_h, seconds=12.4)
            if high - low < 5:
                continue
            night = period.dates[int(period.night_index((start - begin).total_seconds(), begin))]
            lower = np.minimum(home_elevation[low : high + 1], elevation[low : high + 1]).max()
            rows.append(
                {
                    "partner": site.call,
                    "band": "3cm",
                    "night": night,
                    "window_start_utc": start,
                    "window_end_utc": begin + dt.timedelta(hours=hours[high] - base_h, seconds=7),
                    "duration_min": float(high - low) - 0.09,
                    "home_azimuth_start_deg": home_azimuth[low],
                    "home_elevation_start_deg": home_elevation[low],
                    "home_azimuth_end_deg": home_azimuth[high],
                    "home_elevation_end_deg": home_elevation[high],
                    "partner_azimuth_start_deg": azimuth[low],
                    "partner_elevation_start_deg": elevation[low],
                    "partner_azimuth_end_deg": azimuth[high],
                    "partner_elevation_end_deg": elevation[high],
                    "maximum_lower_elevation_deg": lower,
                    "opens_by": "home minimum elevation" if home_elevation[low] < 5.3 else "partner horizon",
                    "closes_by": "partner horizon" if elevation[high] < 1 else "home minimum elevation",
                    "best_time_utc": start + dt.timedelta(minutes=int(high - low) // 2),
                }
            )
    names = ["partner", "band", "night", "window_start_utc", "window_end_utc"]
    windows = pd.DataFrame(rows) if rows else pd.DataFrame(columns=names)
    return _assemble(period, home, sites, base_h, windows, paper)


def _assemble(period, home, sites, base_h, windows, paper):
    dates, count = list(period.dates), len(period.dates)
    first, begin = period.first_night, period.start
    epoch = dt.datetime(2027, 3, 1, tzinfo=dt.UTC)
    middle = np.array([(instant - epoch).total_seconds() / 3600 for instant in period.highest])
    age = (middle / 24 - 7.4) * 360 / 29.53 % 360
    declination, _ = moon(middle)
    distance = 381_500 - 24_000 * np.cos(2 * np.pi * (middle / 24 - 18.2) / 27.55)
    sun = np.abs((age + 180) % 360 - 180) * 0.97 + 2
    degradation = (distance - 357_000) / 50_000 * 2 + 4 * np.exp(-((sun / 8) ** 2)) + 0.2
    word = np.select(
        [degradation <= 1, degradation <= 2, degradation <= 4], ["strong", "workable", "marginal"], "unlikely"
    )
    own = dict(list(windows.groupby("night")["partner"])) if len(windows) else {}
    calls = [" ".join(dict.fromkeys(own.get(date, ()))) for date in dates]
    reach = [len(set(own.get(date, ()))) for date in dates]
    order = np.argsort(np.argsort(degradation)) + 1
    rises, sets = _rise_set(home, period)
    nights = pd.DataFrame(
        {
            "night": dates,
            "outcome": word,
            "partners_in_reach": reach,
            "contacts_expected": np.clip(1.2 - degradation / 4, 0, 1) * np.array(reach),
            "partners_usable": calls,
            "partners_heard": calls,
            "best_partner": [s.call for s in sites][:1] * count,
            "declination_deg": declination,
            "distance_km": distance,
            "degradation_db": degradation,
            "sun_separation_deg": sun,
            "moon_lit_fraction": (1 - np.cos(np.radians(age))) / 2,
            "moon_elongation_deg": age,
            "moon_highest_utc": pd.to_datetime(list(period.highest)),
            "home_moonrise_utc": rises,
            "home_moonset_utc": sets,
            "rank": order,
        }
    )
    night_facts = tuple(
        (
            Fact(FactKind.MOON_DISTANCE, distance_km=far, loss_db=short),
            Fact(FactKind.SUN_NEAR, angle_deg=away) if away < 20 else Fact(FactKind.DECLINATION, angle_deg=north),
        )
        for far, short, away, north in zip(distance, degradation, sun, declination, strict=True)
    )
    rng = base_h + np.arange(count * 24 + 1.0)
    age_h = (rng / 24 - 7.4) * 360 / 29.53 % 360
    sun_h = np.abs((age_h + 180) % 360 - 180) * 0.97 + 2
    distance_h = 381_500 - 24_000 * np.cos(2 * np.pi * (rng / 24 - 18.2) / 27.55)
    hours = pd.DataFrame(
        {
            "time_utc": pd.to_datetime([begin + dt.timedelta(hours=i) for i in range(len(rng))]),
            "declination_deg": moon(rng)[0],
            "distance_km": distance_h,
            "sun_separation_deg": sun_h,
            "home_sky_db": 0.01 * np.sin(rng / 24),
        }
    )
    parts = {
        "distance": (distance - 357_000) / 50_000 * 2,
        "sun": 4 * np.exp(-((sun / 8) ** 2)),
        "moon": np.full(count, 0.2),
    }
    parts |= {name: np.zeros(count) for name in ("sky", "ground", "air")}
    course = MonthCourse(
        hours,
        pd.DataFrame(
            {
                "night": dates,
                "home_degradation_db": sum(parts.values()),
                **{f"home_degradation_{name}_db": part for name, part in parts.items()},
                "home_spread_least_hz": 60.0,
                "home_spread_most_hz": 280.0 + declination,
            }
        ),
    )
    if len(windows):
        index = {date: i for i, date in enumerate(dates)}
        at = [index[night] for night in windows["night"]]
        figures = {"degradation_least_db": degradation[at], "outcome": word[at]}
        chance = np.clip(1.2 - degradation[at] / 4, 0, 1)
        reports = {"report_at_partner_db": -16 - degradation[at], "report_at_home_db": -14.2 - degradation[at]}
        windows = windows.assign(chance=chance, **figures, **reports)
    per = [windows[windows["partner"] == s.call] for s in sites]
    partners = pd.DataFrame(
        {
            "partner": [s.call for s in sites],
            "windows": [len(p) for p in per],
            "hours": [p["duration_min"].sum() / 60 if len(p) else 0.0 for p in per],
            "usable_hours": [p["duration_min"].sum() / 60 if len(p) else 0.0 for p in per],
            "best_night": [p["night"].iloc[0] if len(p) else None for p in per],
            "chance": [p["chance"].iloc[0] if len(p) else np.nan for p in per],
            "ground_distance_km": [11_000.0 + 321.4 * i for i in range(len(sites))],
            "bearing_deg": [(27.0 + 40 * i) % 360 for i in range(len(sites))],
        }
    )
    samples = _samples(home, sites, windows, begin, base_h)
    agenda = _agenda(home, windows) if len(windows) else pd.DataFrame(columns=list(COLUMNS))
    nights = nights.assign(**_worth(dates, windows, agenda))
    taken = set(agenda["partner"])
    no_windows = tuple(None if len(p) else NoWindow(NoWindowKind.NEVER_RISES, "partner") for p in per)
    absences = tuple(
        None if s.call in taken else WithoutWindow(why) if why else Absence(Cause.NIGHTS_EARN_TOO_LITTLE)
        for s, why in zip(sites, no_windows, strict=True)
    )
    used = set(agenda["night"])
    idle_nights = tuple(None if date in used else EarnsTooLittle(0.12, 0.3) for date in dates)
    season = Season(
        home=home.call, band="3cm", title="Autumn round", months=(f"{first:%Y-%m}",), report=Report(paper=paper)
    )
    inputs = Inputs(
        season=season,
        home=home,
        partners=tuple(sites),
        wishes=tuple(Partner(s.call) for s in sites),
        files={"season.yaml": "ab" * 32, "qm7tor.yaml": "cd" * 32},
    )
    notes = ("Ephemeris: an invented Moon on a circle", "UT1: taken as UTC", "The sky is invented for tests")
    return Plan(
        inputs=inputs,
        number="K7QD",
        period=period,
        windows=windows,
        samples=samples,
        nights=nights,
        partners=partners,
        course=course,
        carpets=tuple(_carpet(site, windows, period) for site in sites),
        modes=(None,) * len(sites),
        notes=notes,
        kernel="invented.bsp",
        clock_note="UT1 taken as UTC",
        agenda=agenda,
        contacts_expected=float(agenda["joint_chance_met"].sum()),
        trips=(),
        agenda_notes=(Proof(0.0),),
        alternatives=pd.DataFrame(columns=["partner", "label", "instead_of", "slot_start_utc", "slot_end_utc"]),
        withdrawn=pd.DataFrame(columns=["partner", "label", "uid", "sequence", "slot_start_utc", "slot_end_utc"]),
        no_windows=no_windows,
        absences=absences,
        idle_nights=idle_nights,
        night_facts=night_facts,
        reserves=(),
        usable_windows=_usable(windows),
        boards=(),
        questions=((),) * len(sites),
    )


def _worth(dates, windows, agenda):
    """Everybody with a window can be met; a night is worth the chances of its windows, a slot brings its own."""
    own = dict(list(windows.groupby("night"))) if len(windows) else {}
    slots = dict(list(agenda.groupby("night")["chance"])) if len(agenda) else {}
    calls = [list(dict.fromkeys(own[date]["partner"])) if date in own else [] for date in dates]
    alone = [own[date]["chance"].sum() if date in own else 0.0 for date in dates]
    return {
        "contacts_expected": alone,
        "contacts_in_agenda": [slots[date].sum() if date in slots else 0.0 for date in dates],
        "contacts_if_added": [0.0 if date in slots else worth / 4 for date, worth in zip(dates, alone, strict=True)],
        "partners_usable": [" ".join(mine) for mine in calls],
        "partners_heard": [" ".join(mine) for mine in calls],
        "possible": True,
    }


def _usable(windows):
    """An hour from the first quarter hour of every window that holds one, at a chance of at least marginal."""
    found = []
    for row, window in enumerate(windows.to_dict("records")):
        start = pd.Timestamp(window["window_start_utc"]).ceil("15min").to_pydatetime()
        end = start + dt.timedelta(hours=1)
        if end > window["window_end_utc"] or window["chance"] < 0.25:
            continue
        margin = 6.0 * window["chance"] - 3.0
        middle = start + dt.timedelta(minutes=30)
        found.append(
            UsableWindow(
                row, window["partner"], window["night"], start, end, window["chance"], margin, middle, margin + 0.4
            )
        )
    return tuple(found)


def _carpet(site, windows, period):
    """Slots of an hour, home free from four in the afternoon on; the window's chance at every start."""
    first, last = (edge.astimezone(period.zone).date() for edge in (period.start, period.end))
    shape = ((last - first).days + 1, QUARTERS)
    chance, (shared, free) = np.full(shape, np.nan), np.zeros((2, *shape), dtype=bool)
    quarter = dt.timedelta(minutes=15)
    for row in windows[windows["partner"] == site.call].to_dict("records") if len(windows) else []:
        start = row["window_start_utc"].ceil("15min").to_pydatetime()
        end, odds = row["window_end_utc"].to_pydatetime(), row["chance"]
        while start <= end:
            wall = start.astimezone(period.zone)
            cell = (wall.date() - first).days, wall.hour * 4 + wall.minute // 15
            shared[cell] = True
            if start + 4 * quarter <= end:
                chance[cell] = np.fmax(chance[cell], odds)
                free[cell] = wall.hour >= 16
            start += quarter
    return Carpet(site.call, first, chance, shared, free, np.zeros(shape, dtype=bool))


def _agenda(home, windows):
    """A slot in the longest window of each partner, as they come."""
    rows = []
    for call, own in windows.groupby("partner", sort=False):
        window = own.loc[own["duration_min"].idxmax()]
        start = pd.Timestamp(window["window_start_utc"]).ceil("15min")
        rows.append(
            {
                "partner": call,
                "operator": home.call,
                "band": "3cm",
                "night": window["night"],
                "slot_start_utc": start,
                "slot_end_utc": start + pd.Timedelta(hours=1),
                "chance": window["chance"],
                "chance_met": 0.9 * window["chance"],
                "joint_chance": window["chance"],
                "joint_chance_met": 0.9 * window["chance"],
                "state": "proposed",
                "slot_outcome": "",
                "label": "A",
                "uid": f"{home.call}-{call}-3cm-a@mutual-moon.invalid".lower(),
                "mode": "Q65 60 s",
                "opener": "partner",
                "report_at_partner_db": window["report_at_partner_db"],
                "report_at_home_db": window["report_at_home_db"],
                "margin_at_partner_db": np.nan,
                "margin_at_home_db": np.nan,
                "doppler_spread_hz": np.nan,
                "polarization_advice": "",
                "fall_back": FallBack(None, (start + pd.Timedelta(days=1), start + pd.Timedelta(hours=25))),
            }
        )
    frame = pd.DataFrame(rows).sort_values("slot_start_utc", kind="stable", ignore_index=True)
    return frame.assign(slot=range(1, len(frame) + 1))


def _rise_set(home, period):
    rises, sets = [], []
    for begin, end in zip(period.edges, period.edges[1:], strict=False):
        base = (begin - dt.datetime(2027, 3, 1, tzinfo=dt.UTC)).total_seconds() / 3600
        minutes = np.arange((end - begin).total_seconds() // 60)
        up = look(home, base + minutes / 60)[1] > 0
        change = np.diff(up.astype(int))
        for found, into in ((np.flatnonzero(change == 1), rises), (np.flatnonzero(change == -1), sets)):
            into.append(begin + dt.timedelta(minutes=int(found[0])) if len(found) else pd.NaT)
    return pd.to_datetime(pd.Series(rises), utc=True), pd.to_datetime(pd.Series(sets), utc=True)


def _samples(home, sites, windows, begin, base_h):
    """Every half an hour of each window."""
    if not len(windows):
        return pd.DataFrame(columns=["time_utc", "partner", "night"])
    starts, ends = windows["window_start_utc"], windows["window_end_utc"]
    many = ((ends - starts) // pd.Timedelta(minutes=30) + 1).to_numpy()
    row = np.repeat(np.arange(len(windows)), many)
    halves = np.concatenate([np.arange(count) for count in many])
    times = starts.iloc[row].reset_index(drop=True) + pd.to_timedelta(30 * halves, unit="min")
    hours = base_h + (times - pd.Timestamp(begin)).dt.total_seconds().to_numpy() / 3600
    here, there = look(home, hours), np.empty((2, hours.size))
    calls = windows["partner"].to_numpy()[row]
    for site in sites:
        mine = calls == site.call
        there[:, mine] = look(site, hours[mine])
    return pd.DataFrame(
        {
            "time_utc": times,
            "partner": calls,
            "band": "3cm",
            "night": windows["night"].to_numpy()[row],
            "home_azimuth_deg": here[0],
            "home_elevation_deg": here[1],
            "partner_azimuth_deg": there[0],
            "partner_elevation_deg": there[1],
            "declination_deg": moon(hours)[0],
        }
    )
