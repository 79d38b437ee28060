"""The page of the Moon's course: what its picture and its words tell is what the plan holds."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import ephem
import numpy as np
import pytest

from pipeline.link.noise import DEGRADATION_PARTS
from pipeline.outlook.month_course import NOTABLE_DB, MonthCourse
from pipeline.plan.plan import Plan
from pipeline.reports import course_charts, course_view
from pipeline.reports.course_charts import Line, Range, Stack
from pipeline.reports.places import templates_folder
from pipeline.reports.svg import AMBER_WORDS, INK
from pipeline.wording import course as words
from pipeline.wording import formats
from tests.conftest import Outside
from tests.plan.months import month_plan
from tests.reports.invented_plan import make

WIDTH, HEIGHT = 766.0, 519.0


@pytest.fixture(scope="module")
def demo() -> Plan:
    return month_plan("2027-03")


def course_of(plan: Plan) -> course_view.Course:
    return course_view._course(plan, plan.first_night, plan.last_night)


def rows(plan: Plan) -> dict[str, Line | Stack | Range]:
    return {row.axis.name: row for row in course_of(plan).rows}


def test_rows_are_the_plans_figures(demo: Plan) -> None:
    found = rows(demo)
    assert list(found) == ["Declination", "Distance", "Degradation", "Spread"]
    stack, spread = found["Degradation"], found["Spread"]
    assert isinstance(stack, Stack)
    assert isinstance(spread, Range)
    nights = demo.course.nights
    dates = [demo.first_night + dt.timedelta(days=int(day)) for day in stack.day]
    assert dates == list(nights["night"]) == list(demo.period.dates)
    for name in DEGRADATION_PARTS:
        assert np.array_equal(stack.parts[name], nights[f"home_degradation_{name}_db"])
        assert (name in stack.names) == (nights[f"home_degradation_{name}_db"].max() >= 0.05)
    assert np.array_equal(spread.most, nights["home_spread_most_hz"])
    assert np.array_equal(spread.least, nights["home_spread_least_hz"])


def test_calls_stand_beside_the_dots_in_order_of_time(demo: Plan) -> None:
    course = course_of(demo)
    assert course.agenda == {
        (night - demo.first_night).days: [
            slot.call for slot in sorted(demo.slots, key=lambda slot: slot.start) if slot.night == night
        ]
        for night in demo.nights_with_slots
    }
    picture = str(course_charts.course_chart(course, WIDTH, HEIGHT))
    assert re.findall(r">(Q\w+)<", picture) == [call for calls in course.agenda.values() for call in calls]


def test_calls_are_left_out_where_the_picture_has_no_room(demo: Plan) -> None:
    """A call longer than the picture is wide stands nowhere; the others stay."""
    course = course_of(demo)
    first, *others = course.agenda
    crowded = dataclasses.replace(course, agenda={**course.agenda, first: ["Q" + "W" * 200]})
    picture = str(course_charts.course_chart(crowded, WIDTH, HEIGHT))
    assert re.findall(r">(Q\w+)<", picture) == [call for day in others for call in course.agenda[day]]


def test_curves_run_by_homes_clock(demo: Plan) -> None:
    """At the Moon's highest the curves have the nights' own figures."""
    found = rows(demo)
    wall = [instant.astimezone(demo.zone).replace(tzinfo=None) for instant in demo.period.highest]
    first = dt.datetime.combine(demo.first_night, dt.time())
    days = [(one - first) / dt.timedelta(days=1) for one in wall]
    for name, column, scale in (("Declination", "declination_deg", 1.0), ("Distance", "distance_km", 1e-3)):
        line = found[name]
        assert isinstance(line, Line)
        inside = (np.array(days) >= line.days[0]) & (np.array(days) <= line.days[-1])
        assert inside.sum() > 25
        read = np.interp(np.array(days)[inside], line.days, line.values)
        assert np.abs(read - demo.nights[column].to_numpy()[inside] * scale).max() < 0.02


def test_agenda_sun_and_phases_are_the_plans(demo: Plan, outside: Outside) -> None:
    course = course_of(demo)
    assert [demo.first_night + dt.timedelta(days=day) for day in course.agenda] == demo.nights_with_slots
    # The phases by PyEphem; ours are read between the nights.
    told = {phase.words: phase.day for phase in course.phases}
    others = {
        "new": ephem.next_new_moon("2027/3/1"),
        "first quarter": ephem.next_first_quarter_moon("2027/3/1"),
        "full": ephem.next_full_moon("2027/3/1"),
        "last quarter": ephem.next_last_quarter_moon("2027/3/1"),
    }
    assert set(told) == set(others)
    midnight = dt.datetime.combine(demo.first_night, dt.time(), tzinfo=demo.zone)
    off = [
        abs(told[name] - (date.datetime().replace(tzinfo=dt.UTC) - midnight) / dt.timedelta(days=1))
        for name, date in others.items()
    ]
    assert max(off) < 0.1
    outside("ephem", len(off), f"{max(off):.3f} day", "phases of the Moon")
    near = course.hours[course.near_sun]
    assert near.min() < told["new"] < near.max()
    bold = re.findall(r'font-size="9" font-weight="600" fill="' + INK + r'"[^>]*>(\d+)<', str(page(demo).chart))
    assert sorted(set(map(int, bold))) == sorted(date.day for date in demo.nights_with_slots)
    assert f'fill="{AMBER_WORDS}" text-anchor="middle">Sun within 12°' in str(page(demo).chart)


def page(plan: Plan) -> course_view.CoursePage:
    return course_view.course_pages(plan, WIDTH, HEIGHT)[0]


def test_the_alternative_text_tells_the_ranges(demo: Plan) -> None:
    title = re.search("<title>(.*?)</title>", str(page(demo).chart))
    assert title
    hours, nights = demo.course.hours, demo.course.nights["home_degradation_db"]
    for value in (hours["declination_deg"].max(), hours["declination_deg"].min()):
        assert formats.declination(value) in title[1]
    assert f"from {formats.decibels(nights.min())} to {formats.decibels(nights.max())} dB" in title[1]
    assert formats.date_runs(demo.nights_with_slots) in title[1]


def test_apogee_and_perigee_are_turning_points(demo: Plan) -> None:
    line = rows(demo)["Distance"]
    assert isinstance(line, Line)
    assert [one[2] for one in line.notes] == ["apogee 405", "perigee 366", "apogee 404"]
    for day, value, told in line.notes:
        around = line.values[np.abs(line.days - day) < 2]
        assert value == (around.max() if told.startswith("apogee") else around.min())


def with_sky(plan: Plan, moves_db: float) -> Plan:
    hours = plan.course.hours.assign(home_sky_db=np.linspace(0.0, moves_db, len(plan.course.hours)))
    return dataclasses.replace(plan, course=MonthCourse(hours, plan.course.nights))


@pytest.mark.parametrize(
    ("moves_db", "drawn", "told"),
    [
        (0.01, False, "a difference of less than 0.1 dB in these days: it does not matter."),
        (0.2, False, "a difference of 0.2 dB in these days: it does not matter."),
        (0.4, True, "The sky's curve is the sky behind the Moon alone, whatever the hour."),
    ],
)
def test_the_sky_is_drawn_or_told(demo: Plan, moves_db: float, drawn: bool, told: str) -> None:
    plan = with_sky(demo, moves_db)
    assert ("Sky" in rows(plan)) == drawn
    assert told in page(plan).key
    assert drawn == (moves_db > NOTABLE_DB)


def test_the_air_is_drawn_where_it_moves(demo: Plan) -> None:
    nights = demo.course.nights.copy()
    nights["home_degradation_air_db"] = np.linspace(0.0, 1.5, len(nights))
    plan = dataclasses.replace(demo, course=MonthCourse(demo.course.hours, nights))
    assert "Air" in rows(plan)
    assert "Air" not in rows(demo)


def test_a_night_near_the_sun_passes_the_scale_and_says_how_far() -> None:
    plan = make(partners=2)
    nights = plan.course.nights.copy()
    nights.loc[4, ["home_degradation_sun_db", "home_degradation_db"]] = 14.0, 15.2
    plan = dataclasses.replace(plan, course=MonthCourse(plan.course.hours, nights))
    assert rows(plan)["Degradation"].axis.high < 9.0
    whole = sum(float(nights.loc[4, f"home_degradation_{name}_db"]) for name in DEGRADATION_PARTS)
    assert f">{whole:.0f}</text>" in str(page(plan).chart)


def test_without_any_figure_the_rows_are_left_out() -> None:
    plan = make(partners=2)
    nights = plan.course.nights.copy()
    nights.loc[:, [name for name in nights if name != "night"]] = np.nan
    plan = dataclasses.replace(plan, course=MonthCourse(plan.course.hours, nights))
    assert list(rows(plan)) == ["Declination", "Distance"]
    assert "No bars: no night of that date" in page(plan).key


def test_a_date_without_a_night_is_told(demo: Plan) -> None:
    assert len(demo.period.dates) < 31
    assert "No bars" in page(demo).key
    assert "No bars" not in words.key_words(demo.course, NOTABLE_DB, agenda=True, gaps=False)


def test_few_elements_and_no_small_type(demo: Plan) -> None:
    chart = str(page(demo).chart)
    assert chart.count("<path") <= 40
    assert min(float(size) for size in re.findall(r'font-size="([\d.]+)"', chart)) >= 7.0


def test_a_clock_change_is_told() -> None:
    home = dataclasses.replace(make(partners=1).inputs.home, time_zone="Europe/Berlin")
    plan = make(dt.date(2027, 3, 1), partners=2, home=home)
    assert "Clocks at home change on Sunday 28 March at 01:00 UTC" in page(plan).key
    days = course_of(plan).hours
    steps = np.diff(days) * 24
    assert sorted(set(np.round(steps, 6))) == [1.0, 2.0]


def test_a_screen_knows_the_pictures_size(demo: Plan) -> None:
    """Whole on a wide screen, wider than the glass on a narrow one, by rules for the class that the picture has."""
    (css_class,) = set(
        re.findall(r'<svg [^>]*class="([^"]+)"', str(course_view.course_pages(demo, 700.0, 500.0)[0].chart))
    )
    css = (templates_folder() / "style.css").read_text(encoding="utf-8")
    assert re.findall(rf"\.chart \.{css_class} {{ width: (\w+%?);", css) == ["100%", "1000px"]
