"""What looks odd in a station file, in words: every kind has its sentence, with the figures that it is about."""

from __future__ import annotations

import datetime as dt

import pytest

from pipeline.explain.oddities import (
    AnswersLate,
    BandOfNobody,
    BeamInsideMoon,
    BeyondUsual,
    ClockNotOfPlace,
    GainAgainstBeamwidth,
    GainBelowBeamwidth,
    GroundGainUnused,
    HeightAgainstTerrain,
    HoursTurned,
    LandmarkOdd,
    LatestByDay,
    LinearAmongCircular,
    ModesUnknown,
    MountNarrow,
    NothingWanted,
    Odd,
    OddFigure,
    Oddity,
    PlaceAgainstZone,
    PlaceFromLocator,
    PointingError,
    PowerBeyondBattery,
    PowerGreat,
    SkylineByTerrain,
    SkylineHigh,
    TemplateLeft,
    Unusual,
    ZoneWithoutSummer,
)
from pipeline.explain.slip_values import (
    AzimuthsInTens,
    CalendarOver,
    Copied,
    Exchanged,
    LandmarkDigits,
    NightsOfNobody,
    OddFrequency,
    SeasonOver,
    UnusualGroup,
    YearLeft,
    ZenithAngles,
)
from pipeline.inputs.horizon import HorizonPoint, Terrain
from pipeline.wording.plausibility import oddity_words

TERRAIN = Terrain(
    place="tiles", tiles=("S35W056.hgt",), ground_m=208.0, antenna_height_m=2.0, ignored_within_m=100.0,
    highest_m=420.0, top=HorizonPoint(azimuth_deg=95.0, elevation_deg=7.4), top_km=3.2, surveyed=False,
    missing_is_sea=False,
)  # fmt: skip
TOLD = (
    (
        AnswersLate(dt.date(2027, 4, 2), 31, 31, dt.date(2027, 2, 2)),
        "after the last night; answers are of use before the first slot, by 2027-02-02 for",
    ),
    (
        AnswersLate(dt.date(2027, 3, 20), 19, 31, dt.date(2027, 2, 20)),
        "2027-03-20, when 19 of 31 nights are over;",
    ),
    (
        HoursTurned(dt.time(23), dt.time(19)),
        "from 23:00 to 19:00 go on until the next day; are 19:00 to 23:00 meant?",
    ),
    (
        HoursTurned(dt.time(18, 30), dt.time(11, 45), evening=dt.time(23, 45)),
        "from 18:30 to 11:45 go on until the next day; is 23:45 meant for 11:45?",
    ),
    (NothingWanted(("QF4LUM", "QJ2KAW")), "contacts_wanted is 0 for QF4LUM and QJ2KAW: nothing is planned there;"),
    (LatestByDay(dt.time(12, 30), dt.time(0, 30)), "is 12:30, by day; is 00:30 meant?"),
    (BandOfNobody("23cm", "qm7tor.yaml", ("3cm",)), "write 23cm there below bands, or band: 3cm here."),
    (Unusual("policy.night_cost", 20.0, 0.0, 3.0, None), "policy.night_cost is 20, and 0 to 3 is usual."),
    (Unusual("policy.presence", 0.1, 0.4, 1.0, 0.9), "policy.presence is 0.1, and 0.4 to 1 is usual; is 0.9 meant?"),
    (
        Unusual("battery.capacity_ah", 2560.0, 0.0, 390.625, 100.0, "watt-hours"),
        "battery.capacity_ah is 2560, and 0 to 390.6 is usual; are these watt-hours, and is 100 meant?",
    ),
    (
        PlaceAgainstZone(Odd.LATITUDE_SIGN, "America/Montevideo", "GF25cl", 7672.0, -34.5, -55.8),
        "7,672 km from the city of time_zone America/Montevideo; south is negative: is latitude_deg -34.5 meant?",
    ),
    (
        PlaceAgainstZone(Odd.LONGITUDE_SIGN, "America/Montevideo", "GF25cl", 9000.0, -34.5, -55.8),
        "west is negative: is longitude_deg -55.8 meant?",
    ),
    (
        PlaceAgainstZone(Odd.BOTH_SIGNS, "America/Montevideo", "GF25cl", 9000.0, -34.5, -55.8),
        "are latitude_deg -34.5 and longitude_deg -55.8 meant?",
    ),
    (
        PlaceAgainstZone(Odd.SWAPPED, "America/Montevideo", "GF25cl", 9000.0, -34.5, -55.8),
        "latitude and longitude look swapped: are latitude_deg -34.5 and longitude_deg -55.8 meant?",
    ),
    (
        PlaceAgainstZone(Odd.FAR_FROM_ZONE, "America/Montevideo", "GF25cl", 9000.0, -34.5, -55.8, "America/Lima"),
        "one of the two is likely wrong; by the place America/Lima is the zone.",
    ),
    (ClockNotOfPlace("Pacific/Chatham", "Pacific/Auckland"), "time_zone is Pacific/Chatham (UTC+13:45 in January"),
    (ZoneWithoutSummer("Etc/GMT-3", 3.0, "Europe/Helsinki"), "time_zone Etc/GMT-3 is always 3 hours ahead of UTC and"),
    (ZoneWithoutSummer("Etc/GMT-1", 1.0, "Europe/Berlin"), "is always 1 hour ahead of UTC and knows no summer time"),
    (ZoneWithoutSummer("CET", None, "Europe/Berlin"), "CET is an old name for several countries' clock; by the place"),
    (TemplateLeft(("call", "name")), "call and name are still the example's; write your own."),
    (
        BeyondUsual(Odd.POWER_SMALL, 0.04, 1.0),
        "power_w 0.04 is very little; watts at the feed are meant, and 1 or more",
    ),
    (OddFigure(Odd.DISH_LARGE, 60.0), "dish_diameter_m 60 metres is larger than nearly all."),
    (OddFigure(Odd.DISH_LARGE, 10.0, "feet", 3.048), "larger than nearly all; are these feet, and is 3.048 meant?"),
    (
        UnusualGroup("battery", (Unusual("battery.receive_a", 350.0, 0.0, 30.0, 0.35, "milliamperes"),)),
        "battery has receive_a: 350, and none of these is usual; are they milliamperes, and is receive_a: 0.35 meant?",
    ),
    (
        Exchanged("battery.receive_a", "battery.transmit_a", 18.0, 3.0),
        "battery.receive_a is 18 and transmit_a 3; are the two exchanged, and is receive_a: 3, transmit_a: 18 meant?",
    ),
    (ZenithAngles("minimum_elevation_deg", (), 85.0), "hardly any Moon; is 8.5 meant, or 5, counted from the zenith?"),
    (
        SeasonOver(("2026-03",), ("2027-03",)),
        "months [2026-03] is over, and other dates of these files are of another year",
    ),
    (
        LandmarkDigits("landmarks.1", "silo", (("longitude_deg", 11.901, 11.091),), 68.0, 4.3),
        "the landmark silo is 68 km away by longitude_deg 11.901; is longitude_deg 11.091 meant, 4.3 km away?",
    ),
    (
        Copied(("email",), "QF4LUM", "qf4lum.yaml"),
        "email is the very same as in qf4lum.yaml, QF4LUM's; where this file began as a copy of it,",
    ),
    (
        OddFrequency("frequency_mhz", 10386.1, ((10367.0, 10371.0),), 10368.1),
        "frequency_mhz is 10386.1, and contacts by the Moon are looked for at 10367 to 10371 MHz; is 10368.1 meant,",
    ),
    (
        YearLeft("letters.reply_by", ((dt.date(2026, 2, 1),) * 2,), ((dt.date(2027, 2, 1),) * 2,)),
        "letters.reply_by 2026-02-01 is of another year than the season's nights; is 2027-02-01 meant?",
    ),
    (CalendarOver("ann.ics", dt.date(2026, 3, 5)), "busy: the last entry of ann.ics is of 2026-03-05, long before"),
    (
        NightsOfNobody(("mon",), ("sat", "sun"), "qm7tor.yaml"),
        "policy.nights has mon alone, and the hours of qm7tor.yaml sat, sun: no night is both,",
    ),
    (
        AzimuthsInTens((0.0, 9.0, 18.0, 27.0)),
        "horizon has points at azimuths 0, 9, 18, 27 alone; are these tens of degrees, and is 0, 90, 180, 270 meant?",
    ),
    (
        SkylineHigh(
            (HorizonPoint(azimuth_deg=0, elevation_deg=40),),
            30.0,
            (HorizonPoint(azimuth_deg=0, elevation_deg=40), HorizonPoint(azimuth_deg=90, elevation_deg=15)),
        ),
        "40 at azimuth 0; are azimuth and elevation in their places, or are these tenths, 4 at azimuth 0, 1.5 at",
    ),
    (BeyondUsual(Odd.GAIN_LARGE, 70.0, 39.0), "gain_dbi 70 would be a dish of 39 m on this band;"),
    (BeyondUsual(Odd.GAIN_SMALL, 12.0, 25.0), "a gain of 12.0 dBi is small for the Moon on this band; 25 or more"),
    (
        GainBelowBeamwidth(20.0, 1.0, 46.5),
        "a gain of 20.0 dBi with a beamwidth of 1 degrees: a beam so narrow has up to 46.5 dBi;",
    ),
    (OddFigure(Odd.HEIGHT_GREAT, 5500.0), "position.height_m 5500 metres is higher than nearly all stations."),
    (LandmarkOdd(Odd.LANDMARK_AT_DISH, "silo", 0.0, 60.0), "the landmark silo stands at the dish itself"),
    (
        LandmarkOdd(Odd.LANDMARK_OUT_OF_SIGHT, "silo", 740.0, 60.0),
        "the landmark silo is 740 km away, and one sees 60 km",
    ),
    (PlaceFromLocator(Odd.LOCATOR_COARSE, "GF", 700.0), "four characters such as GF25."),
    (Oddity(Odd.PLACE_OF_HOME), "this station stands where home stands;"),
    (HeightAgainstTerrain(20.0, 208.0), "height_m is 20, but the elevation tiles have 208 m there;"),
    (SkylineByTerrain(TERRAIN), "It is highest at azimuth 95: 7.4 degrees, 3.2 km away. Look, and compare."),
    (OddFigure(Odd.EFFICIENCY_HIGH, 0.85), "aperture_efficiency 0.85 is more than dishes reach;"),
    (OddFigure(Odd.EFFICIENCY_LOW, 0.2), "aperture_efficiency 0.2 is low;"),
    (OddFigure(Odd.DISH_SMALL, 4.15), "a dish of 4.2 wavelengths is small"),
    (GainAgainstBeamwidth(50.0, 2.0, 40.44, 0.51), "a gain of 50.0 dBi and a beamwidth of 2 degrees cannot both be;"),
    (GainAgainstBeamwidth(50.0, 2.0, 40.44, 0.51), "has 40.4 dBi at most, and with the gain goes beamwidth_deg 0.51."),
    (BeamInsideMoon(0.289, 1.23), "the beam of 0.29 degrees is narrower than the Moon: own echoes lose 1.2 dB,"),
    (PointingError(Odd.POINTING_BEYOND_BEAM, 1.0, 0.675, 26.3, 0.135), "1 is no less than the beamwidth of 0.68"),
    (
        PointingError(Odd.POINTING_COSTS, 0.3, 0.675, 2.37, 0.135),
        "0.3 costs 2.4 dB each way in a beam of 0.68 degrees;",
    ),
    (PointingError(Odd.POINTING_COSTS, 0.3, 0.675, 2.37, 0.13), "under 0.13 is usual."),
    (Oddity(Odd.POINTING_NEVER_ERRS), "a dish that never errs;"),
    (PowerGreat(1500.0, 24_048.0, 120.0), "power_w 1500 is a great deal at 24,048 MHz; at the feed, 120 W"),
    (PowerBeyondBattery(50.0, 60.0), "power_w 50 from 60 W off the battery would be an efficiency of 83 %;"),
    (BeyondUsual(Odd.RECEIVER_NOISELESS, 0.0, 0.5), "a receiver without noise; 0.5 dB is hardly beaten"),
    (BeyondUsual(Odd.NOISE_FIGURE_LOW, 0.3, 0.5), "noise_figure_db 0.3 is very low; 0.5 dB is hardly beaten"),
    (OddFigure(Odd.NOISE_FIGURE_HIGH, 6.0), "noise_figure_db 6 is high for this band; is a preamplifier"),
    (OddFigure(Odd.LOSS_AHEAD_HIGH, 2.0), "loss_before_preamplifier_db 2 costs signal and adds noise;"),
    (Oddity(Odd.SPILLOVER_NONE), "sees no ground at all;"),
    (OddFigure(Odd.SPILLOVER_HIGH, 0.4), "spillover_fraction 0.4 sees much warm ground;"),
    (GroundGainUnused(3.0, ("2m", "70cm")), "ground_gain_db 3 is not used on this band, only on 2m and 70cm."),
    (BeyondUsual(Odd.OUTSIDE_PASSBAND, 5000.0, 1250.0), "frequency_accuracy_hz 5000 may leave the signal outside"),
    (BeyondUsual(Odd.OUTSIDE_DECODER_SEARCH, 1000.0, 200.0), "wider than decoders usually search, some 200 Hz"),
    (ModesUnknown(("RTTY",)), "RTTY has no line in the mode table"),
    (ModesUnknown(("RTTY", "PSK")), "RTTY, PSK have no line in the mode table"),
    (Oddity(Odd.CIRCULAR_AMONG_LINEAR), "loses 3 dB with linear stations"),
    (LinearAmongCircular("vertical"), "polarization vertical loses 3 dB with circular stations"),
    (
        SkylineHigh((HorizonPoint(azimuth_deg=40.0, elevation_deg=47.5), HorizonPoint(51.0, 31.0)), 30.0),
        "horizon points above 30 degrees: 47.5 at azimuth 40, 31 at azimuth 51;",
    ),
    (SkylineHigh((HorizonPoint(3.0, 70.0),), 30.0), "is azimuth_deg 70 with elevation_deg 3 meant?"),
    (OddFigure(Odd.SKYLINE_DEEP, -6.0), "the horizon falls to -6 degrees: only a steep mountain"),
    (
        OddFigure(Odd.MINIMUM_ELEVATION_HIGH, 40.0, meant=4.0),
        "gives away most of each Moon pass; 0 to 10 is usual; is 4 meant?",
    ),
    (MountNarrow(160.0, 200.0, 40.0), "160 to 200 is 40 degrees; is from 200 to 160, past north, meant?"),
    (MountNarrow(340.0, 20.0, 40.0), "340 to 20 is 40 degrees; is from 20 to 340, past south, meant?"),
    (OddFigure(Odd.MOUNT_LOW, 20.0), "maximum_elevation_deg 20 is a mount that only looks low;"),
    (PlaceFromLocator(Odd.PLACE_FROM_LOCATOR, "GF25cl", 4.4), "the place comes from locator GF25cl, good to 4 km;"),
)


@pytest.mark.parametrize(("oddity", "words"), TOLD, ids=lambda one: one if isinstance(one, str) else one.kind.name)
def test_an_oddity_in_words(oddity: Oddity, words: str) -> None:
    told = oddity_words(oddity)
    assert words in told
    # One sentence on one line, with nothing left to fill in.
    assert told[-1] in ".?"
    assert not set("{}\n") & set(told)


def test_every_kind_has_its_words() -> None:
    assert {oddity.kind for oddity, _ in TOLD} == set(Odd)
