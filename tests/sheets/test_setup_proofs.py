"""Proving the station before the first slot: the swing, what the eye finds, powers, and what is sent besides slots."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from pathlib import Path

import ephem
import numpy as np
import pytest

from pipeline.inputs.model import Antenna, HorizonPoint, Landmark, Mount
from pipeline.link.antenna import dish_beam
from pipeline.link.sun_noise import sun_antenna_temperature_k, sun_rise_db
from pipeline.sheets.alignment import BEHIND, OUT_OF_REACH, TOO_FAR, align, of_no_use_words
from pipeline.sheets.by_eye import lit_share, moon_by_eye, sun_by_eye
from pipeline.sheets.cautions import joined
from pipeline.sheets.document import night_room
from pipeline.sheets.noise_check import NoiseCheck, sun_swing
from pipeline.sheets.powers import changeover_words, powers_of, powers_words, weather_words
from pipeline.sheets.setup_sheet import IN_DOUBT, setup_sheet
from tests.plan.months import month_plan, with_equipment
from tests.sheets.invented_agenda import EMPTY_NIGHT, night_plan
from tests.sheets.test_setup_landmarks import BEAMWIDTH_DEG, LANTERN, NO_DECLINATION, station
from tests.sheets.test_setup_sheet import NIGHT, _with, agenda, evening, sheet, with_home

BEAM = dish_beam(1.8, 0.55, 10368)
NO_BREAK = " ± 0.6 dB".replace(" ", "\N{NO-BREAK SPACE}")
README = Path(__file__).parents[2] / "README.md"


def test_swing_loses_half_of_the_sun() -> None:
    """Turned by the half-fall angle, half of the Sun's power is left and the reading has fallen by what is told."""
    sun_k = float(sun_antenna_temperature_k(300.0, 10368, BEAM, 0.0))
    rise = float(sun_rise_db(100.0, sun_k))
    swing = sun_swing(rise, BEAM, 35.0)
    assert swing is not None
    turned_k = float(sun_antenna_temperature_k(300.0, 10368, BEAM, swing.elevation_deg))
    assert turned_k == pytest.approx(sun_k / 2.0, rel=0.01)
    assert rise - float(sun_rise_db(100.0, turned_k)) == pytest.approx(swing.fall_db, abs=0.05)
    # On the azimuth dial by the cosine of the elevation.
    assert swing.azimuth_deg == pytest.approx(swing.elevation_deg / math.cos(math.radians(35.0)))
    near_zenith = sun_swing(rise, BEAM, 80.0)
    assert near_zenith is not None
    assert near_zenith.azimuth_deg is None


def test_inside_the_doubt_nothing_is_learnt() -> None:
    found = sheet()
    sun = next(line.note for line in found.steps if line.title == "Sun noise")
    doubt = float(sun.split("±\N{NO-BREAK SPACE}")[1].split("\N{NO-BREAK SPACE}")[0])
    assert "peak first" in sun
    for line in found.shortfalls:
        short = float(line.short.split()[0])
        assert (line.sun == IN_DOUBT) == (short < doubt), line
    assert {line.sun == IN_DOUBT for line in found.shortfalls} == {True, False}
    assert NoiseCheck(9.0, 0.8, ()).is_inside_doubt(0.5)
    assert not NoiseCheck(9.0, 0.8, ()).is_inside_doubt(1.0)


def test_the_order_of_proofs() -> None:
    """Receiver on the ground, then changeover, then aim, Sun, Moon; ready 20 minutes before the first slot."""
    titles = [line.title for line in sheet().steps]
    order = [
        "Cables, powers",
        "GPS lock",
        "Ground, cold sky",
        "Changeover",
        "Align",
        "Sun noise",
        "Moon noise",
        "Ready",
    ]
    places = [titles.index(title) for title in order]
    assert places == sorted(places)
    assert next(line.utc for line in sheet().steps if line.title == "Ready") == "21:25"


def test_the_ground_of_the_readme() -> None:
    """README shows this figure of the demo."""
    words = next(line.note for line in sheet().steps if line.title == "Ground, cold sky")
    assert words == "95.0°, 5.3° (hillside), then 70° up: 5.8 ± 0.6 dB.".replace(" ± 0.6 dB", NO_BREAK)
    assert "5.8 ± 0.6 dB" in README.read_text("utf-8")


def test_a_small_dish_cannot_see_the_moon() -> None:
    home = with_equipment(month_plan().inputs.home, antenna=Antenna(dish_diameter_m=1.1))
    found = sheet(with_home(month_plan(), bands=home.bands))
    notes = {line.title: line.note for line in found.steps}
    assert notes["Moon noise"].startswith("Not with this dish: 0.")
    assert notes["Ready"].startswith("Aim by the table")
    assert not found.shortfalls_have_moon
    assert (found.moon_too_weak, sheet().moon_too_weak) == (True, False)
    big = {line.title: line.note for line in sheet().steps}
    assert "±" in big["Moon noise"]
    assert big["Ready"].startswith("Peak on Moon noise")


def test_lit_share_against_another_ephemeris() -> None:
    """PyEphem's phase, in percent, from the Earth's centre."""
    seen = evening()
    for index in (150, 400):
        moon = ephem.Moon(ephem.Date(seen.instant(index).replace(tzinfo=None)))
        assert lit_share(seen.sun_separation_deg[index]) * 100.0 == pytest.approx(moon.phase, abs=1.0)


def test_the_eye_needs_height_light_and_contrast() -> None:
    seen = evening()
    assert not moon_by_eye(seen)[seen.moon.elevation_deg < 2.0].any()
    assert moon_by_eye(seen)[seen.moon.clearance_deg > 0.0].all(), "92 % lit is seen by day too"
    thin = dataclasses.replace(seen, sun_separation_deg=np.full(seen.minutes, 40.0))
    up = thin.moon.clearance_deg > 0.0
    dark = thin.sun.elevation_deg < -6.0
    # 12 % lit: a crescent that the dark shows and the day does not.
    assert moon_by_eye(thin)[up & dark].all()
    assert not moon_by_eye(thin)[~dark].any()
    assert not sun_by_eye(seen)[seen.sun.elevation_deg < 2.0].any()


def test_the_moon_is_sighted_with_its_time() -> None:
    found = sheet()
    align_words = next(line.note for line in found.steps if line.title == "Align")
    assert "sight the Moon while clear, from 20:5" in align_words
    assert found.bodies[1][1].startswith("by eye, 20:5")
    assert "92 %\N{NO-BREAK SPACE}lit" in found.bodies[1][1]


def test_only_landmarks_that_can_be_sighted() -> None:
    far = Landmark("peak", -34.0, -55.80342, 900.0)
    low = dataclasses.replace(station(LANTERN, far), horizon=(HorizonPoint(0.0, 3.0),))
    found = align(low, BEAMWIDTH_DEG, NO_DECLINATION)
    assert found.of_no_use == (("lantern", BEHIND), ("peak", TOO_FAR))
    assert (found.lines, found.best) == ((), "")
    assert of_no_use_words(found) == (
        "Not usable tonight: lantern (behind your own skyline) and peak (too far to be seen)."
    )
    silo = Landmark("silo", azimuth_deg=231.4)
    for mount, reason in ((Mount(azimuth_from_deg=240.0, azimuth_to_deg=100.0), OUT_OF_REACH), (Mount(), None)):
        stopped = align(dataclasses.replace(station(silo), mount=mount), BEAMWIDTH_DEG, NO_DECLINATION)
        assert dict(stopped.of_no_use).get("silo") == reason
    # Without a surveyed skyline nobody can say that it is hidden.
    assert align(station(LANTERN), BEAMWIDTH_DEG, NO_DECLINATION).best == "lantern"


def test_powers_are_the_stations_or_blank() -> None:
    """4 + 2 A receiving, 22 + 2 A sending by the demo's file; no limit is invented."""
    home = month_plan().inputs.home
    assert home.battery is not None
    bare = powers_of(home.battery, home.mount)
    assert weather_words(bare).startswith("Wind to ____ m/s")
    assert powers_words(bare) == "No open end; drive lowest. Receiving 6 A; never under ____ V."
    assert "Lowest drive, then full: 24 A" in changeover_words(bare, "dish")
    given = powers_of(
        dataclasses.replace(home.battery, minimum_voltage_v=11.5),
        dataclasses.replace(home.mount, maximum_wind_m_s=12.0),
    )
    assert weather_words(given).startswith("Wind to 12 m/s")
    assert powers_words(given).endswith("never under 11.5 V.")
    assert "Receiving ____ A; never under ____ V" in powers_words(powers_of(None, home.mount))


def test_what_is_sent_besides_slots_counts() -> None:
    """The slot lies high; its fall-back meets the setting Moon, and a low one is told with its hours."""
    high = agenda(("QF4LUM", "2027-03-20T02:00", "2027-03-20T03:00", "proposed"))
    plain = setup_sheet(_with(month_plan(), high).night(NIGHT))
    assert any("above 10° whenever it sends" in line for line in plain.cautions)
    night = _with(month_plan(), high).night(NIGHT)
    again = (dt.datetime(2027, 3, 20, 6, 30, tzinfo=dt.UTC), dt.datetime(2027, 3, 20, 7, 30, tzinfo=dt.UTC))
    slots = (dataclasses.replace(night.slots[0], again_tonight=again),)
    found = setup_sheet(dataclasses.replace(night, slots=slots))
    low = next(line for line in found.cautions if line.startswith("Keep clear: the beam is below 10°"))
    assert "07:30 UTC" in low


def test_the_own_echo_counts_too() -> None:
    """The Moon stands at 4 to 9 degrees over the demo's site when the echo is tried, above 10 in the slot."""
    slots = agenda(("QF4LUM", "2027-03-19T21:25", "2027-03-19T22:25", "proposed"))
    plan = with_home(month_plan(), horizon=())
    found = setup_sheet(_with(plan, slots).night(NIGHT))
    echo = next(line for line in found.steps if line.title == "Own echo")
    assert echo.utc == "21:00"
    low = next(line for line in found.cautions if line.startswith("Keep clear"))
    assert "21:00 to 21:05 UTC" in low


def test_a_night_without_slots_has_its_cautions() -> None:
    text = night_room(night_plan(), EMPTY_NIGHT, with_pdf=False).files["sheets.html"].decode()
    for words in ("nobody within 82 m while it sends", "Keep clear: the beam is below 10°", "Never look at the Sun"):
        assert words in text


def test_stretches_that_touch_are_one() -> None:
    hour = [dt.datetime(2027, 3, 19, hour, tzinfo=dt.UTC) for hour in range(6)]
    assert joined([(hour[3], hour[4]), (hour[0], hour[2]), (hour[1], hour[3])]) == [(hour[0], hour[4])]
    assert joined([(hour[2], hour[3]), (hour[0], hour[1])]) == [(hour[0], hour[1]), (hour[2], hour[3])]
