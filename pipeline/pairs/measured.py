"""A station as operators measured it: each reading of the record against what the file expects, and the figures of all.

Sun and Moon at each reading's instant, sky, air and receiver as the plan takes them, by `noise_rises`; the figures by
`station_figures`. Worked out once for what it follows from.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.sky import covering
from pipeline.ephemeris.tracks import Geocentre, bodies_at, see_from_centre
from pipeline.inputs.model import Station
from pipeline.link.chance import STATION_SPREAD_DB
from pipeline.link.noise import Receiver, system_temperature
from pipeline.link.path_loss import moon_disc_deg
from pipeline.pairs.assumed import side_doubt_db2
from pipeline.pairs.equipment import frequency_of_mhz, receiver_of
from pipeline.pairs.noise_rises import MOON_K, SUN_TABLE_SHARE, ground_rise, moon_rise, sun_rise
from pipeline.pairs.own_echo import own_echo_db
from pipeline.pairs.pattern_met import Antenna, antenna_of, cold_sky
from pipeline.pairs.solar_activity import Activity, activity_on
from pipeline.pairs.source_ratios import ratio_of_db, rise_of_db
from pipeline.pairs.station_figures import ECHO_READ_DB, RISE_READ_DB, Before, Figures, Readings, figures_of, sound
from pipeline.radio_sky.air import air_loss_db, reference_atmosphere
from pipeline.radio_sky.moon_brightness import moon_temperature_k
from pipeline.radio_sky.sun_flux import flux_sfu
from pipeline.record.inputs import Inputs
from pipeline.record.model import ECHO, GROUND, MOON, SUN, Correction, Measurement
from pipeline.windows.samples import End, see_from
from pipeline.windows.scene import sites_of

# The parts of a side's variance that its noise, its power and the dish of both sides have by themselves.
# So many times the reach of nine in ten is out of all question.
BEYOND_REACH = 3.0
SHARED_DB2 = STATION_SPREAD_DB**2 / 4.0
# A lower source is not measured but the ground under it.
LOWEST_DEG = 0.0
# What a source is off by on every day alike: ground fills not all of a pattern (a twentieth, judgement), table and
# fit of Sun and Moon have their own; an active Sun is off by the day besides.
GROUND_SHARE, USUAL_MOON_K = 0.05, 210.0
COMMON_DOUBT_DB = {
    GROUND: 10.0 * math.log10(1.0 + GROUND_SHARE),
    SUN: 10.0 * math.log10(1.0 + SUN_TABLE_SHARE),
    MOON: 10.0 * math.log10(1.0 + MOON_K / USUAL_MOON_K),
}
# Standard deviations to either side that hold nine in ten (Gauss).
NINE_IN_TEN = 1.6448536269514722
MARGIN = dt.timedelta(hours=2)


@dataclass(frozen=True)
class Reading:
    """One line of the record with what the station's file expects: a rise on the axis, or its own echo.

    `day_doubt_db` is what the source may be off by on that day, `common_doubt_db` on every day alike, dB of source
    against system. Azimuth and apparent elevation are the source's, None for ground. A reading that is not
    `counted` was below the horizon (`is_down`) or cannot be what it says.
    """

    measurement: Measurement
    expected_db: float
    day_doubt_db: float
    common_doubt_db: float
    azimuth_deg: float | None
    elevation_deg: float | None
    activity: Activity | None
    counted: bool = True

    @property
    def is_down(self) -> bool:
        """Whether the source stood below the level horizon."""
        return self.elevation_deg is not None and self.elevation_deg < LOWEST_DEG


@dataclass(frozen=True)
class Measured:
    """All readings of a station on a band, in order of time, and what they tell; None where none counts."""

    call: str
    band: str
    readings: tuple[Reading, ...]
    figures: Figures | None
    before: Before
    receiver: Receiver
    gain_over_temperature_db: float

    @property
    def counted(self) -> tuple[Reading, ...]:
        """Those that the figures rest on."""
        return tuple(one for one in self.readings if one.counted)

    def history(self, what: str, before: dt.datetime | None = None, most: int = 3) -> tuple[Reading, ...]:
        """The last readings of a kind up to an instant, the oldest first."""
        mine = [
            one
            for one in self.counted
            if one.measurement.what == what and (before is None or one.measurement.time_utc <= before)
        ]
        return tuple(mine[-most:])


def measured_of(inputs: Inputs, call: str, band: str) -> Measured | None:
    """What was measured of a station of the season on a band; None where nothing was.

    Raises EphemerisUnavailable where the kernel does not cover a reading's time.
    """
    mine = [one for one in inputs.record.measurements if (one.call, one.band) == (call, band)]
    station = next((one for one in (inputs.home, *inputs.partners) if one.call == call), None)
    if not mine or station is None or band not in station.bands:
        return None
    ordered = tuple(sorted(mine, key=lambda one: (one.time_utc, one.what)))
    frequency = frequency_of_mhz(inputs, station, band)
    season = inputs.season
    key = (repr(station), band, frequency, repr(season.policy), season.ephemeris.file, inputs.observed_flux, ordered)
    return _worked_out(_Asked(key, inputs, station, band, frequency, ordered))


@dataclass(frozen=True)
class _Asked:
    """What the figures follow from, as a key; all else is only the way to it."""

    key: tuple[object, ...]
    inputs: Inputs = dataclasses.field(compare=False)
    station: Station = dataclasses.field(compare=False)
    band: str = dataclasses.field(compare=False)
    frequency_mhz: float = dataclasses.field(compare=False)
    measurements: tuple[Measurement, ...] = dataclasses.field(compare=False)


@lru_cache(maxsize=256)
def _worked_out(asked: _Asked) -> Measured:
    receiver = receiver_of(asked.station, asked.band, asked.frequency_mhz)
    before = before_of(asked.station, asked.band)
    readings = list(_readings(asked, receiver))
    up = [place for place, one in enumerate(readings) if not one.is_down]
    figures = None
    if up:
        every = _as_arrays([readings[place] for place in up])
        kept = sound(every, before, receiver.beam)
        good = {place for place, keep in zip(up, kept, strict=True) if keep}
        figures = figures_of(every.take(kept), before, receiver.beam) if good else None
        readings = [dataclasses.replace(one, counted=place in good) for place, one in enumerate(readings)]
    else:
        readings = [dataclasses.replace(one, counted=False) for one in readings]
    cold = cold_sky(_antenna(asked, receiver).over_flat_ground(), _air_name(asked, readings[-1].measurement), 0.0, 90.0)
    ratio = receiver.beam.gain_dbi - 10.0 * np.log10(system_temperature(receiver, cold).total_k.item())
    return Measured(
        asked.station.call,
        asked.band,
        tuple(readings),
        figures,
        before,
        receiver,
        float(ratio - receiver.loss_before_preamplifier_db),
    )


def before_of(station: Station, band: str) -> Before:
    """What is believed of a station without readings: the chance's own doubt of a station and that of assumed figures.

    The dish serves both sides of a station, so that half of each side's variance is common to both.
    """
    equipment = station.bands[band]
    return Before(
        gain_db2=SHARED_DB2 + side_doubt_db2(station, band, ("antenna",)),
        noise_db2=SHARED_DB2 + side_doubt_db2(station, band, ("noise_figure_db", "loss_before_preamplifier_db")),
        power_db2=SHARED_DB2 + side_doubt_db2(station, band, ("power_w",)),
        pointing_error_deg=equipment.pointing_error_deg,
        dial_resolution_deg=station.mount.dial_resolution_deg,
    )


def measured_correction(inputs: Inputs, call: str, band: str) -> Correction | None:
    """The same as decibels on each side of the station; None where nothing that counts was measured."""
    found = measured_of(inputs, call, band)
    return None if found is None else correction_from(found)


def correction_from(found: Measured) -> Correction | None:
    """What the readings tell, in the form of what a review has learnt; None where none counts."""
    if found.figures is None:
        return None
    (sends, sends_doubt), (hears, hears_doubt) = found.figures.transmit_db, found.figures.receive_db
    last = max(one.measurement.time_utc for one in found.counted).date()
    count = len(found.counted)
    words = f"{count} measurement{'' if count == 1 else 's'} up to {last}"
    return Correction(found.call, found.band, sends, hears, sends_doubt, hears_doubt, words)


def _as_arrays(readings: Sequence[Reading]) -> Readings:
    measurements = [one.measurement for one in readings]
    days = [(one.what, one.time_utc.date()) for one in measurements]
    across, up = [], []
    for one in readings:
        elevation = 0.0 if one.elevation_deg is None else one.elevation_deg
        azimuth_off, elevation_off = one.measurement.azimuth_offset_deg, one.measurement.elevation_offset_deg
        across.append(np.nan if azimuth_off is None else azimuth_off * np.cos(np.radians(elevation)))
        up.append(np.nan if elevation_off is None else elevation_off)
    return Readings(
        what=tuple(one.what for one in measurements),
        aim=tuple(one.aim for one in measurements),
        value_db=np.array([one.value_db for one in measurements], dtype=float),
        expected_db=np.array([one.expected_db for one in readings], dtype=float),
        # Readings of one day share their error: each counts as a part of one.
        day_doubt_db=np.array(
            [one.day_doubt_db * np.sqrt(days.count(day)) for one, day in zip(readings, days, strict=True)]
        ),
        common_doubt_db=common_doubts_db(readings),
        across_deg=np.array(across, dtype=float),
        up_deg=np.array(up, dtype=float),
    )


def common_doubts_db(readings: Sequence[Reading]) -> dict[str, float]:
    """By kind, the greatest of its readings; of kinds that were not read the usual ones."""
    found = dict(COMMON_DOUBT_DB)
    for one in readings:
        if one.measurement.what in found:
            found[one.measurement.what] = max(one.common_doubt_db, found[one.measurement.what])
    return found


def sun_doubts_db(activity: Activity) -> tuple[float, float]:
    """What the Sun may be off by on a day and on every day alike, dB.

    An activity that nobody observed may be off for the season as much as for the day.
    """
    own = 10.0 * math.log10(1.0 + activity.share)
    if activity.observed is not None:
        return own, COMMON_DOUBT_DB[SUN]
    half = own / math.sqrt(2.0)
    return half, math.hypot(COMMON_DOUBT_DB[SUN], half)


def _readings(asked: _Asked, receiver: Receiver) -> list[Reading]:
    """In order of time."""
    instants = [one.time_utc for one in asked.measurements]
    made: list[Reading] = []
    for rows, sky in covering(instants, MARGIN, asked.inputs.season.ephemeris.file):
        time_s = np.array([sky.seconds(instants[row]) for row in rows])
        bodies = bodies_at(sky, time_s)
        sites = sites_of(sky, [asked.station]).take(np.zeros(len(rows), dtype=np.int64))
        seen, centre = see_from(bodies, sites), see_from_centre(bodies)
        made += [
            _reading(asked, receiver, seen, centre, place, asked.measurements[row]) for place, row in enumerate(rows)
        ]
    return made


def _air_name(asked: _Asked, one: Measurement) -> str:
    policy, place = asked.inputs.season.policy, asked.station.position
    return reference_atmosphere(place.latitude_deg, one.time_utc.month, policy.atmosphere)


def _antenna(asked: _Asked, receiver: Receiver) -> Antenna:
    return antenna_of(asked.station, receiver, asked.frequency_mhz)


def _reading(asked: _Asked, receiver: Receiver, seen: End, centre: Geocentre, place: int, one: Measurement) -> Reading:
    """One reading against the file, the sky being that of its row."""
    air, frequency, height = _air_name(asked, one), asked.frequency_mhz, asked.station.position.height_m
    antenna = _antenna(asked, receiver)
    if one.what == GROUND:
        rise = ground_rise(antenna, air, min(asked.station.mount.maximum_elevation_deg, 90.0))
        return Reading(one, rise.rise_db, 0.0, COMMON_DOUBT_DB[GROUND], None, None, None)
    body = seen.sun if one.what == SUN else seen.moon
    azimuth, geometric = float(body.azimuth_deg[place]), body.elevation_deg[place : place + 1]
    elevation = float((geometric + refraction_deg(geometric, np.array([height]))).item())
    cold = cold_sky(antenna, air, azimuth, max(elevation, LOWEST_DEG))
    loss_db = float(air_loss_db(frequency, air, height, max(elevation, LOWEST_DEG)))
    if one.what == SUN:
        activity = activity_on(asked.inputs, one.time_utc.date())
        flux, share = float(flux_sfu(frequency, activity.value)), activity.share
        rise = sun_rise(receiver, frequency, flux, share, cold, loss_db)
        return Reading(one, rise.rise_db, *sun_doubts_db(activity), azimuth, elevation, activity)
    range_km = float(body.range_km[place])
    disc = float(moon_disc_deg(np.array(range_km)))
    moon_k = float(moon_temperature_k(frequency, centre.elongation_deg[place : place + 1] - 180.0).item())
    if one.what != ECHO:
        rise = moon_rise(receiver, moon_k, disc, cold, loss_db)
        return Reading(one, rise.rise_db, 0.0, COMMON_DOUBT_DB[MOON], azimuth, elevation, None)
    hot = system_temperature(receiver, dataclasses.replace(cold, moon_k=moon_k, moon_disc_deg=disc)).total_k.item()
    echo = own_echo_db(asked.station, asked.band, frequency, range_km, 2.0 * loss_db, hot)
    return Reading(one, echo, 0.0, 0.0, azimuth, elevation, None)


def expected_at(inputs: Inputs, probe: Measurement) -> Reading | None:
    """What a reading not yet in the record is held against; None where the season knows no such station or band."""
    alone = dataclasses.replace(inputs, record=dataclasses.replace(inputs.record, measurements=(probe,)))
    found = measured_of(alone, probe.call, probe.band)
    return None if found is None else found.readings[0]


@dataclass(frozen=True)
class Ahead:
    """What a reading should say by all that was known before it, dB, and where it lies nine times in ten."""

    middle_db: float
    low_db: float
    high_db: float


def sign_is_lost(reading: Reading, ahead: Ahead) -> bool:
    """Whether an own echo is far from all that is to be expected, and its opposite is not."""
    one = reading.measurement
    reach = (ahead.high_db - ahead.low_db) / 2.0
    far, near = abs(one.value_db - ahead.middle_db), abs(-one.value_db - ahead.middle_db)
    return one.what == ECHO and far > BEYOND_REACH * reach and near < reach


def ahead_of(reading: Reading, figures: Figures) -> Ahead:
    """From the file's figure and what is known of the station; the source's day and the meter have their doubt too."""
    one = reading.measurement
    shift, doubt = figures.ahead(one.what, one.aim)
    if one.what == ECHO:
        reach = NINE_IN_TEN * math.hypot(doubt, ECHO_READ_DB)
        middle = reading.expected_db + shift
        return Ahead(middle, middle - reach, middle + reach)
    reach = NINE_IN_TEN * math.hypot(doubt, reading.day_doubt_db)
    ratio = ratio_of_db(reading.expected_db) + shift
    middle, low, high = (float(rise_of_db(ratio + by)) for by in (0.0, -reach, reach))
    meter = NINE_IN_TEN * RISE_READ_DB
    return Ahead(middle, middle - math.hypot(middle - low, meter), middle + math.hypot(high - middle, meter))


def known_figures(inputs: Inputs, call: str, band: str) -> Figures:
    """What the readings tell of a station of the season; where there are none, what is believed of it."""
    found = measured_of(inputs, call, band)
    if found is not None and found.figures is not None:
        return found.figures
    station = next(one for one in (inputs.home, *inputs.partners) if one.call == call)
    receiver = receiver_of(station, band, frequency_of_mhz(inputs, station, band))
    return figures_of(_as_arrays([]), before_of(station, band), receiver.beam)
