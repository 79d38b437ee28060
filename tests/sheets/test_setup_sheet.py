"""The set-up sheet of a demo night: sky and echo against others, words against the facts, one page of paper."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from io import BytesIO

import ephem
import numpy as np
import pandas as pd
import pytest
from markupsafe import Markup
from pypdf import PdfReader

from pipeline.agenda.agenda_table import COLUMNS
from pipeline.ephemeris.refraction import refraction_deg
from pipeline.inputs.model import Landmark, Report, SetupMinutes
from pipeline.plan.plan import Plan
from pipeline.reports import fonts, pdf
from pipeline.reports.page import environment
from pipeline.reports.views import PAPERS
from pipeline.sheets.evening import Evening, make_evening
from pipeline.sheets.setup_sheet import MOST_TABLE_ROWS, SetupSheet, setup_sheet, state_words
from tests.plan.months import month_plan, with_policy
from tests.sheets.invented_agenda import SITE_NOTES, standing_at_the_beach

NIGHT = dt.date(2027, 3, 19)
hundredth_degree = 0.01


def agenda(*rows: tuple[str, str, str, str]) -> pd.DataFrame:
    """Rows as the agenda has them: partner, start and end (UTC), state."""
    return pd.DataFrame(
        {
            "partner": [row[0] for row in rows],
            "band": ["3cm" for _ in rows],
            "night": [NIGHT for _ in rows],
            "slot_start_utc": pd.to_datetime([row[1] for row in rows], utc=True),
            "slot_end_utc": pd.to_datetime([row[2] for row in rows], utc=True),
            "state": [row[3] for row in rows],
        }
    )


FULL = agenda(
    ("QF4LUM", "2027-03-19T21:45", "2027-03-19T22:45", "proposed"),
    ("QX6ICE", "2027-03-19T23:00", "2027-03-20T00:00", "confirmed"),
    ("QZ5KAR", "2027-03-20T00:15", "2027-03-20T01:15", "tentative"),
)


def with_home(plan: Plan, **changes: object) -> Plan:
    home = dataclasses.replace(plan.inputs.home, **changes)
    return dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, home=home))


def _with(plan: Plan, slots: pd.DataFrame, night: dt.date = NIGHT) -> Plan:
    """The plan with these slots on one night, whatever the agenda holds."""
    return dataclasses.replace(plan, agenda=slots.assign(night=night).reindex(columns=list(COLUMNS)))


def sheet(plan: Plan | None = None, slots: pd.DataFrame = FULL) -> SetupSheet:
    return setup_sheet(_with(plan or month_plan(), slots).night(NIGHT))


def evening(minutes: int = 420) -> Evening:
    start = dt.datetime(2027, 3, 19, 18, 45, tzinfo=dt.UTC)
    return make_evening(month_plan().inputs, "3cm", start, start + dt.timedelta(minutes=minutes))


def test_sun_and_moon_against_another_ephemeris() -> None:
    """PyEphem (VSOP87 and a lunar theory of its own) without air; ours carries P.834's refraction."""
    seen, home = evening(), month_plan().inputs.home.position
    place = ephem.Observer()
    place.lat, place.lon, place.elevation, place.pressure = (
        str(home.latitude_deg), str(home.longitude_deg), home.height_m, 0.0,
    )  # fmt: skip
    for index in (90, 150, 170):
        place.date = ephem.Date(seen.instant(index).replace(tzinfo=None))
        for theirs, ours in ((ephem.Sun(place), seen.sun), (ephem.Moon(place), seen.moon)):
            true_deg = float(np.degrees(theirs.alt))
            lift = float(refraction_deg(true_deg, home.height_m))
            assert ours.elevation_deg[index] == pytest.approx(true_deg + lift, abs=hundredth_degree)
            assert ours.azimuth_deg[index] == pytest.approx(float(np.degrees(theirs.az)), abs=hundredth_degree)


def test_echo_is_the_plans() -> None:
    """At the plan's own samples the sheet's minute gives the same echo: one way to work it out."""
    seen, samples = evening(), month_plan().samples
    first, last = pd.Timestamp("2027-03-19T21:00Z"), pd.Timestamp("2027-03-20T01:00Z")
    rows = samples[(samples["partner"] == "QF4LUM") & samples["time_utc"].between(first, last)]
    assert len(rows) > 10
    for row in rows.itertuples():
        if row.time_utc.second == 0 and row.time_utc.microsecond == 0:
            ours = seen.echo_db[seen.index(row.time_utc.to_pydatetime(warn=False))]
            assert ours == pytest.approx(row.home_echo_snr_db, abs=0.02)


def test_a_skyline_that_no_file_states_is_told() -> None:
    words = "Skyline not in the station file: look before you set up."
    bare = with_home(month_plan(), assumed=("horizon",))
    assert sheet(bare).sky_notes == (*sheet().sky_notes, words)
    assert words not in sheet().sky_notes


def test_lines_in_time() -> None:
    found = sheet()
    assert [line.title for line in found.steps][:3] == ["Weather: go or no-go", "Arrive", "Legs and level"]
    assert found.steps[1].utc == "19:45"
    assert found.steps[1].local == "16:45"
    slots = [line for line in found.steps if line.is_slot]
    assert [line.title for line in slots] == ["QF4LUM", "QX6ICE", "QZ5KAR"]
    assert [line.utc for line in slots] == ["21:45", "23:00", "Sat 00:15"]
    assert slots[0].note == "until 22:45 (19:45), provisional: no answer"
    assert "agreed" in slots[1].note


def test_sky_table_fits_and_shows_what_is_over_the_skyline() -> None:
    found = sheet()
    assert 6 <= len(found.sky) <= MOST_TABLE_ROWS
    assert found.sky[0].sun_azimuth
    assert not found.sky[0].moon_azimuth
    assert found.sky[-1].moon_azimuth


def test_long_set_up_keeps_its_table_short() -> None:
    plan = month_plan()
    long = dataclasses.replace(plan, inputs=with_policy(plan.inputs, setup_minutes=SetupMinutes(900, 45, 30)))
    lines = sheet(long).sky
    assert len(lines) <= MOST_TABLE_ROWS
    # From aligning, 21:00, to the slot at 21:45: every ten minutes.
    assert [line.utc for line in lines][-5:] == ["21:00", "21:10", "21:20", "21:30", "21:40"]


def test_sun_down_and_moon_late_are_said() -> None:
    """Five days later the slot begins at dusk, with the Moon just up."""
    slots = agenda(("QF4LUM", "2027-03-24T23:35", "2027-03-25T00:35", "confirmed"))
    found = setup_sheet(_with(month_plan(), slots, dt.date(2027, 3, 24)).night(dt.date(2027, 3, 24)))
    notes = {line.title: line for line in found.steps}
    assert notes["Sun noise"].note.startswith("Sun is too low from 21:3")
    assert notes["Sun noise"].utc == ""
    assert notes["Moon noise"].note.startswith("Moon is high enough only from 23:3")
    assert not found.shortfalls
    assert any(line.startswith("Keep clear: the beam is below 10°") for line in found.cautions)


def test_energy_by_the_stations_figures() -> None:
    """Arriving 19:45, packed 02:15: 6.5 hours; three hours of slots: 66 Ah of 160 x 0.8 = 128, by hand."""
    assert sheet().energy.startswith("Enough. The night takes 66 Ah of 128 Ah usable")
    assert sheet(with_home(month_plan(), battery=None)).energy == ""
    small = dataclasses.replace(month_plan().inputs.home.battery, capacity_ah=70.0)
    assert "10 Ah short" in sheet(with_home(month_plan(), battery=small)).energy


def test_a_fall_back_behind_the_last_slot_ends_the_night_and_is_told() -> None:
    """The last slot is over at 01:15; the fall-back till 02:30 takes 1.25 hours more to stay and 0.75 more of slots.

    By hand: 7.75 hours, 3.75 of them slots, of which half are sent: 2 x 7.75 + 4 x 5.875 + 22 x 1.875 = 80.25 Ah.
    """
    night = _with(month_plan(), FULL).night(NIGHT)
    again = (dt.datetime(2027, 3, 20, 1, 45, tzinfo=dt.UTC), dt.datetime(2027, 3, 20, 2, 30, tzinfo=dt.UTC))
    slots = (dataclasses.replace(night.slots[0], again_tonight=again), *night.slots[1:])
    plain, found = setup_sheet(night), setup_sheet(dataclasses.replace(night, slots=slots))
    ends = {line.title: line for line in found.steps}
    assert (ends["Drive off"].utc, ends["Pack"].utc) == ("Sat 02:30", "Sat 02:45")
    assert ends["Drive off"].note.startswith("after QF4LUM's fall-back; where none is used, at Sat 01:15 UTC.")
    assert found.energy.startswith("Enough. The night takes 81 Ah of 128 Ah usable")
    assert "7.8 hours, 1.9 of them sending, fall-backs counted" in found.energy
    usual = {line.title: line for line in plain.steps}
    assert usual["Drive off"].utc == "Sat 01:15"
    assert "fall-back" not in f"{usual['Drive off'].note} {plain.energy}"
    # One before the last slot changes no end, but is sent in.
    early = (dt.datetime(2027, 3, 19, 22, 45, tzinfo=dt.UTC), dt.datetime(2027, 3, 19, 23, 0, tzinfo=dt.UTC))
    slots = (dataclasses.replace(night.slots[0], again_tonight=early), *night.slots[1:])
    sooner = setup_sheet(dataclasses.replace(night, slots=slots))
    assert sooner.steps == plain.steps
    assert "fall-backs counted" in sooner.energy


def test_energy_of_a_night_planned_again_is_from_the_crews_own_arrival() -> None:
    """The first slot is over and gone from the sheet, not what it took: 6.5 hours from 19:45 to 02:15, three slots."""
    night = _with(month_plan(), FULL).night(NIGHT)
    left = dataclasses.replace(night, slots=night.slots[1:])
    assert "5.3 hours, 1.0 of them sending" in setup_sheet(left).energy
    came = dataclasses.replace(left, set_up_for=tuple((slot.start, slot.end) for slot in night.slots))
    assert setup_sheet(came).energy == setup_sheet(night).energy
    assert "6.5 hours, 1.5 of them sending" in setup_sheet(night).energy


def test_no_slot_is_no_sheet() -> None:
    with pytest.raises(ValueError, match="no slot"):
        sheet(slots=FULL.iloc[:0])


def test_a_free_oscillator_is_told() -> None:
    home = month_plan().inputs.home
    loose = dataclasses.replace(home.bands["3cm"], frequency_accuracy_hz=1000.0)
    titles = [line.title for line in sheet(with_home(month_plan(), bands={"3cm": loose})).steps]
    assert "Oscillator warm" in titles
    assert "GPS lock" not in titles


def crowded(paper: str) -> SetupSheet:
    """Four landmarks, four lines of a checklist, a low beam beside the Sun: what a page must hold."""
    home = month_plan().inputs.home
    more = (Landmark("church of the next village", -34.52, -55.81, 60.0), Landmark("water tower", -34.521, -55.82))
    plan = with_home(
        month_plan(),
        landmarks=home.landmarks + more,
        checklist=tuple(f"Line {number} of what was forgotten last time" for number in range(4)),
    )
    low = agenda(
        ("QF4LUM", "2027-03-19T21:00", "2027-03-19T22:00", "proposed"),
        ("QX6ICE", "2027-03-19T22:15", "2027-03-19T23:15", "proposed"),
        ("QZ5KAR", "2027-03-19T23:30", "2027-03-20T00:30", "tentative"),
    )
    return sheet(with_paper(plan, paper), low)


def long_list(paper: str) -> SetupSheet:
    """Fifteen lines of a checklist and a third landmark."""
    plan = with_paper(month_plan(), paper)
    lines = tuple(f"Line {number} of what was forgotten last time" for number in range(15))
    marks = (*month_plan().inputs.home.landmarks, Landmark("church of the next village", -34.52, -55.81, 60.0))
    return sheet(with_home(plan, checklist=lines, landmarks=marks))


def long_stay(paper: str) -> SetupSheet:
    """A stay of fifteen hours, with words for what cannot be seen when it would be due."""
    plan = with_paper(month_plan(), paper)
    inputs = with_policy(plan.inputs, setup_minutes=SetupMinutes(900, 45, 30))
    slots = agenda(("QF4LUM", "2027-03-24T23:45", "2027-03-25T00:45", "proposed"))
    return setup_sheet(
        _with(dataclasses.replace(plan, inputs=inputs), slots, dt.date(2027, 3, 24)).night(dt.date(2027, 3, 24))
    )


def crowded_site(paper: str) -> SetupSheet:
    """As `crowded`, at a site with as long notes as a file takes."""
    home = standing_at_the_beach(month_plan().inputs.home)
    longest = tuple(dataclasses.replace(one, notes="every word counts here. " * 8) for one in home.sites)
    lines = tuple(f"Line {number} of what was forgotten last time" for number in range(4))
    landmarks = month_plan().inputs.home.landmarks
    plan = with_home(with_paper(month_plan(), paper), name="Beach", sites=longest, checklist=lines, landmarks=landmarks)
    return sheet(plan)


def test_a_sites_notes_stand_at_the_head_of_the_own_lines() -> None:
    home = standing_at_the_beach(month_plan().inputs.home)
    plan = dataclasses.replace(month_plan(), inputs=dataclasses.replace(month_plan().inputs, home=home))
    text = environment().get_template("sheet_setup.html.jinja").render(setup=sheet(plan))
    noted = f"<p><b>Beach.</b> {Markup.escape(SITE_NOTES)}</p>"
    assert text.index(noted) < text.index(str(Markup.escape(home.checklist[0])))
    bare = sheet(with_home(plan, checklist=()))
    assert noted in environment().get_template("sheet_setup.html.jinja").render(setup=bare)
    # On nights at home's own place nothing of the beach is said.
    away = sheet(with_home(plan, name=home.sites[0].name))
    assert away.place_notes == ""
    assert "Firm sand" not in environment().get_template("sheet_setup.html.jinja").render(setup=away)


def with_paper(plan: Plan, paper: str) -> Plan:
    season = dataclasses.replace(plan.inputs.season, report=Report(paper=paper))
    return dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, season=season))


@pytest.mark.parametrize("make", [lambda _: sheet(), long_list], ids=["usual", "long list"])
def test_the_operators_own_lines_come_before_ours(make: Callable[[str], SetupSheet]) -> None:
    """On the page as a reader meets it, and in the order of the document that a screen reader takes."""
    found = make("A4")
    assert found.is_packed == (make is long_list)
    text = environment().get_template("sheet_setup.html.jinja").render(setup=found)
    own = [text.index(line) for line in found.checklist]
    ours = [text.index(str(Markup.escape(line))) for line in (*found.cautions, *(step.title for step in found.steps))]
    assert own == sorted(own)
    assert max(own) < min(ours)


@pytest.mark.parametrize(
    "make",
    [lambda paper: sheet(with_paper(month_plan(), paper)), crowded, crowded_site, long_list, long_stay],
    ids=["usual", "crowded", "crowded site", "long list", "long stay"],
)
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_one_page(paper: str, make: Callable[[str], SetupSheet]) -> None:
    """Three slots, an evening with Sun and Moon: one sheet of either paper."""
    page = PAPERS[paper]
    size = f"@page {{ size: {page.css_name}; margin: {page.top}pt {page.side}pt {page.bottom}pt; }}"
    frame = environment().from_string(
        '<html lang="en"><head><title>Set-up</title><style>{{ css }}{% include "style.css" %}{% include "sheets.css" %}'
        '{% include "sheet_setup.css" %}</style></head>'
        '<body class="sheets">'
        '{% include "sheet_setup.html.jinja" %}</body></html>'
    )
    found = make(paper)
    html = frame.render(setup=found, for_pdf=True, css=Markup(fonts.faces_by_file() + size))
    content = pdf.render(html, NIGHT, "K7QD", 1, f"Set-up {found.night}")
    assert len(PdfReader(BytesIO(content)).pages) == 1


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("proposed", "provisional: no answer"),
        ("tentative", "tentative: not sure yet"),
        ("confirmed", "agreed"),
        ("fixed", "fixed by hand"),
    ],
)
def test_states(state: str, words: str) -> None:
    assert state_words(state) == words


def test_a_sun_beside_the_moon_is_told() -> None:
    """8 March 2027, a day of new Moon (skyfield's almanac: new at 09:29 UTC): both stand side by side at noon."""
    slots = agenda(("QG8FEN", "2027-03-08T16:00Z", "2027-03-08T17:00Z", "proposed"))
    found = setup_sheet(_with(month_plan(), slots, dt.date(2027, 3, 8)).night(dt.date(2027, 3, 8)))
    notes = {line.title: line.note for line in found.steps}
    assert "adds to it" in notes["Moon noise"]
    assert any(line.startswith("The Sun comes within") for line in found.cautions)


def test_assumed_figures_are_told() -> None:
    plan = with_home(month_plan(), assumed=("bands.3cm.noise_figure_db", "bands.3cm.power_w"))
    assert "its figures are assumed" in sheet(plan).noise_note
    assert "(figures assumed)" in sheet(plan).cautions[0]
    assert "assumed" not in sheet().noise_note + sheet().cautions[0]
