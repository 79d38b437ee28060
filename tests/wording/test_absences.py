"""Every cause of an absence as its sentence: for partners, for nights, and for pairs without a window."""

from __future__ import annotations

import dataclasses
import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from pipeline.absence.causes import (
    Absence,
    AfterLatestHour,
    Cause,
    EarnsTooLittle,
    HeldByOthers,
    NightsFull,
    NoCommonMode,
    NoHomeHours,
    OnlyOnDates,
    OnlyWorthItsCost,
    OtherNightsWorthMore,
    OthersWorthMore,
    PartnersAway,
    PartnersOutsideHours,
    Rule,
    RulesTogether,
    SlotsOutsideHours,
    StretchTooShort,
    SunTooNear,
    Taken,
    TooWeak,
    Unlikely,
    WeekdayLeftOut,
    WithoutWindow,
)
from pipeline.absence.remedies import (
    DatesGivenBack,
    LargerDish,
    LaterHour,
    LongerHours,
    LowerNightCost,
    ModeAdded,
    MoreNights,
    MorePower,
    MoreSlots,
    NightsAdded,
    Remedy,
    SmallerSunSeparation,
    Tried,
)
from pipeline.windows.no_window import Hidden, NoWindow, NoWindowKind
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_AZIMUTH, MOUNT_ELEVATION
from pipeline.wording.absences import CAUSE_WORDS, contacts, partner_absence_words, worth
from pipeline.wording.idle_nights import idle_night_words
from pipeline.wording.no_windows import no_window_words
from pipeline.wording.remedies import hours_and_minutes, remedy_words

HOME, CALL = "QM7TOR", "QF4LUM"
ONE = (dt.date(2027, 3, 19),)
FIVE = tuple(dt.date(2027, 3, day) for day in (5, 6, 7, 12, 13))
LATE = dt.time(1)
# Half past midnight of 6 March in Montevideo.
AT = dt.datetime(2027, 3, 6, 3, 30, tzinfo=dt.UTC)
ZONE = ZoneInfo("America/Montevideo")
DISH = Tried((LargerDish("partner", 2.4),), "QF4LUM.bands.3cm.antenna.dish_diameter_m=2.4", AT, 0.61)
BOTH = Tried((LongerHours("partner", "after", 45, ("sat",)), MoreNights(7)), "a=1 b=2", AT, 0.98)

PARTNERS = [
    (Taken(("family.ics",), dates=ONE), "family.ics says busy whenever it could be worked: Fri 19 March"),
    (Absence(Cause.NOT_WANTED), "no contact is wanted (contacts_wanted is 0)"),
    (Absence(Cause.WORKED), "it is worked"),
    (Absence(Cause.PAST), "all times at which it could have been worked are past"),
    (
        WithoutWindow(NoWindow(NoWindowKind.NEVER_RISES, "partner")),
        "no window: the Moon never rises at QF4LUM in this period",
    ),
    (NoCommonMode(("Q65", "CW"), ("SSB",)), "no mode in common: home has Q65 and CW, QF4LUM has SSB"),
    (NoCommonMode(("CW",), ()), "no mode in common: home has CW, QF4LUM has none"),
    (
        Absence(Cause.OFFERS_DECLINED),
        "what was offered is declined, and no other time of this period fits both ends",
    ),
    (
        HeldByOthers((("QN1PIK", "A"), ("QX6ICE", "B"))),
        "what is agreed with QN1PIK A and QX6ICE B holds the dish whenever it could be worked",
    ),
    (
        HeldByOthers(()),
        "what is agreed with a station that is no partner now holds the dish whenever it could be worked",
    ),
    (TooWeak(None, True), "far too weak at whatever hour: even 30 dB more both ways would not do"),
    (TooWeak(1.24, False), "short by 1.2 dB at the hours that both ends have"),
    (
        TooWeak(0.8, True, tried=DISH),
        "short by 0.8 dB at whatever hour; what would do: a dish of 2.4 m at QF4LUM: then Sat 6 March, chance 60 %",
    ),
    (
        SunTooNear(12.5),
        "the Sun is within 12.5 degrees of the Moon whenever both ends could work",
    ),
    (AfterLatestHour(LATE, dates=ONE), "only later than your latest hour before a working day (01:00): Fri 19 March"),
    (
        OnlyOnDates(Cause.HOME_AWAY, FIVE),
        "only when home is away: Fri 5 March, Sat 6 March, Sun 7 March and 2 more",
    ),
    (OnlyOnDates(Cause.NIGHTS_LEFT_OUT, ONE), "only on nights that your policy leaves out: Fri 19 March"),
    (
        OnlyOnDates(Cause.PARTNER_AWAY, FIVE[:3]),
        "only when QF4LUM is away: Fri 5 March, Sat 6 March and Sun 7 March",
    ),
    (
        OnlyOnDates(Cause.PARTNER_AWAY, ONE, second=Cause.NIGHTS_FULL, tried=BOTH),
        "only when QF4LUM is away: Fri 19 March; besides, all nights that your policy allows are in use;"
        " what would do: the hours of QF4LUM ending 45 minutes later on Saturdays and 7 nights: then Sat 6 March,"
        " chance over 95 %",
    ),
    (
        Absence(Cause.SUN_TOO_NEAR, second=Cause.HOURS_DO_NOT_MEET),
        "two things together leave no time: the distance to the Sun and the hours",
    ),
    (
        Absence(Cause.HOURS_DO_NOT_MEET, second=Cause.HOURS_DO_NOT_MEET),
        "hours do not meet: good slots lie outside your hours and those of QF4LUM",
    ),
    (Absence(Cause.NO_FURTHER_WINDOW, has=1, wanted=3), "only 1 of 3 slots: no other window holds a further slot"),
    (
        SlotsOutsideHours(("home",), (dt.time(3, 10), dt.time(8, 30))),
        "hours do not meet: good slots lie at 03:10 to 08:30 your time, outside your hours",
    ),
    (
        SlotsOutsideHours(("partner",), (dt.time(22), dt.time(0))),
        "hours do not meet: good slots lie at 22:00 to 00:00 your time, outside the hours of QF4LUM",
    ),
    (
        SlotsOutsideHours(("home", "partner"), None),
        "hours do not meet: good slots lie at any hour your time, outside your hours and its",
    ),
    (
        StretchTooShort(1, 30),
        "its longest stretch within all rules lasts 1 minute; a slot needs 30",
    ),
    (
        Absence(Cause.MOON_TOO_LOW),
        "within all rules the Moon never stands half a beam clear of the skyline for long enough",
    ),
    (
        Absence(Cause.RULES_TOGETHER),
        "three rules or more leave no time only together: of hours, dates away, nights, latest hour"
        " and distance to the Sun",
    ),
    (
        EarnsTooLittle(0.12, 0.3),
        "not worth a set-up: with its priority it earns 0.2 of a contact at best, and a night costs 0.3",
    ),
    (
        Absence(Cause.NIGHTS_EARN_TOO_LITTLE),
        "not worth a set-up: all it and others could earn on its nights is less than a night costs",
    ),
    (OthersWorthMore(("QN1PIK", "QX6ICE")), "worth less than QN1PIK and QX6ICE at the times it could have"),
    (
        OthersWorthMore(("QA1A", "QB1B", "QC1C", "QD1D", "QE1E")),
        "worth less than QA1A, QB1B, QC1C and QD1D at the times it could have",
    ),
    (
        OthersWorthMore((), has=1, wanted=2),
        "only 1 of 2 slots: its other slots are worth more at the times it could have",
    ),
    (
        NightsFull(6, ("QN1PIK",)),
        "all 6 nights that your policy allows are worth more with QN1PIK",
    ),
    (NightsFull(2, (), has=1, wanted=2), "only 1 of 2 slots: all 2 nights that your policy allows are in use"),
    (NightsFull(1, ("QN1PIK",)), "the one night that your policy allows is worth more with QN1PIK"),
]
NIGHTS = [
    (Taken(("family.ics",), calls=(CALL,)), "family.ics says busy; QF4LUM could be worked"),
    (Absence(Cause.PAST), "it is past"),
    (Absence(Cause.HOME_AWAY), "home is away"),
    (WeekdayLeftOut(2), "Wednesdays are not among your nights"),
    (Absence(Cause.NOBODY_IN_SIGHT), "no partner has the Moon in sight together with home"),
    (SunTooNear(89.0), "the Sun is within 89 degrees of the Moon"),
    (
        AfterLatestHour(LATE, calls=("QA1A", "QB1B", "QC1C", "QD1D")),
        "QA1A, QB1B and QC1C could be worked only later than your latest hour before a working day (01:00)",
    ),
    (PartnersAway((CALL,)), "QF4LUM could be worked, but is away"),
    (PartnersAway(("QN1PIK", CALL)), "QN1PIK and QF4LUM could be worked, but are away"),
    (
        RulesTogether((CALL,), (Rule.HOURS, Rule.LATEST_HOUR)),
        "several rules together leave no time for QF4LUM: hours and latest hour",
    ),
    (
        RulesTogether((CALL,), tuple(Rule)),
        "several rules together leave no time for QF4LUM: hours, dates away, latest hour and distance to the Sun",
    ),
    (NoHomeHours(6, (CALL,)), "you give no hours for Sunday nights; QF4LUM could be worked"),
    (
        PartnersOutsideHours(("home",), (CALL,)),
        "hours do not meet: QF4LUM could be worked only outside your hours",
    ),
    (
        PartnersOutsideHours(("partner",), (CALL,)),
        "hours do not meet: QF4LUM could be worked only outside its own hours",
    ),
    (
        PartnersOutsideHours(("partner",), ("QN1PIK", CALL)),
        "hours do not meet: QN1PIK and QF4LUM could be worked only outside their own hours",
    ),
    (
        PartnersOutsideHours(("home", "partner"), (CALL,)),
        "hours do not meet: QF4LUM could be worked only outside your hours and its",
    ),
    (
        PartnersOutsideHours(("home", "partner"), ("QN1PIK", CALL)),
        "hours do not meet: QN1PIK and QF4LUM could be worked only outside your hours and theirs",
    ),
    (Absence(Cause.OFFERS_DECLINED), "what could be worked was declined"),
    (Absence(Cause.HELD_OR_DECLINED), "what is agreed holds the dish, or was declined"),
    (Unlikely(CALL), "no chance is better than unlikely; the best partner would be QF4LUM"),
    (Unlikely(None), "no partner in reach has a chance better than unlikely, at whatever hour"),
    (OtherNightsWorthMore(1), "the one night that your policy allows is worth more on another date"),
    (OtherNightsWorthMore(4), "the 4 nights that your policy allows are worth more on other dates"),
    (
        Absence(Cause.NOTHING_TO_ADD),
        "everybody within reach has a slot already, and another would hardly better the chance",
    ),
    (
        EarnsTooLittle(0.27, 0.3),
        "by your priorities it could add at most 0.27 of a contact, and a set-up must earn 0.3",
    ),
    (OnlyWorthItsCost(0.3), "all it could add to this agenda is worth no more than a set-up, 0.3"),
]
ARC = (39.6, 150.2)
NO_WINDOWS = [
    (NoWindow(NoWindowKind.NEVER_RISES, "home"), "the Moon never rises at QM7TOR in this period"),
    (
        NoWindow(NoWindowKind.NEVER_ABOVE_BOTH, below_horizon_deg=2.34),
        "the Moon is never above both horizons: at best one end has it 2.3 degrees below its own",
    ),
    (NoWindow(NoWindowKind.BEFORE_FIRST_NIGHT), "the only window of this period began before its first night"),
    (
        NoWindow(NoWindowKind.ALWAYS_HIDDEN, "home", hidden_by=(Hidden(HORIZON, *ARC, 0.0),)),
        "the Moon is above both level horizons only while it is behind QM7TOR's horizon at azimuth 40 to 150 degrees",
    ),
    (
        NoWindow(
            NoWindowKind.ALWAYS_HIDDEN,
            "partner",
            hidden_by=(Hidden(MINIMUM_ELEVATION, *ARC, 12.5), Hidden(MOUNT_AZIMUTH, *ARC, 12.5)),
        ),
        "the Moon is above both level horizons only while it is below QF4LUM's minimum elevation of 12.5 degrees"
        " or outside its mount's reach there, at azimuth 40 to 150 degrees",
    ),
    (
        NoWindow(NoWindowKind.HIDDEN_WHILE_HOME_SEES, "partner", hidden_by=(Hidden(MOUNT_ELEVATION, *ARC, 0.0),)),
        "whenever QM7TOR sees the Moon, it is higher than QF4LUM's mount reaches",
    ),
    (
        NoWindow(NoWindowKind.ALWAYS_HIDDEN, "home", hidden_by=(Hidden(MOUNT_AZIMUTH, *ARC, 0.0),)),
        "the Moon is above both level horizons only while it is outside QM7TOR's mount's reach at QM7TOR,"
        " at azimuth 40 to 150 degrees",
    ),
]


@pytest.mark.parametrize(("absence", "told"), PARTNERS)
def test_why_a_partner_has_no_slot(absence: Absence, told: str) -> None:
    assert partner_absence_words(absence, HOME, CALL, ZONE) == told


@pytest.mark.parametrize(("absence", "told"), NIGHTS)
def test_why_a_night_has_no_slot(absence: Absence, told: str) -> None:
    assert idle_night_words(absence) == told


@pytest.mark.parametrize(("no_window", "told"), NO_WINDOWS)
def test_why_a_pair_has_no_window(no_window: NoWindow, told: str) -> None:
    assert no_window_words(no_window, HOME, CALL) == told


def test_every_cause_has_its_words() -> None:
    """A cause added without a sentence fails here, not on a page."""
    assert {absence.cause for absence, _ in PARTNERS + NIGHTS} == set(Cause)
    assert {no_window.kind for no_window, _ in NO_WINDOWS} == set(NoWindowKind)


def test_a_chance_below_a_limit_is_not_told_as_if_it_reached_it() -> None:
    just_below = TooWeak(0.8, True, tried=dataclasses.replace(DISH, chance=0.59))
    words = partner_absence_words(just_below, HOME, CALL, ZONE, (0.9, 0.6, 0.25))
    assert words.endswith("then Sat 6 March, chance almost 60 %")


def test_every_cause_of_a_partner_has_its_word() -> None:
    """The words of absences.csv, for every cause that a partner can have."""
    partners = {absence.cause for absence, _ in PARTNERS} - {Cause.NOT_WANTED, Cause.WORKED}
    assert partners == set(CAUSE_WORDS)
    assert set(CAUSE_WORDS.values()) == {
        "no window", "no shared mode", "hours do not meet", "away", "nights left out", "Sun too near",
        "chance below marginal", "other slots take the time", "nights full", "night not worth it",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("remedy", "told"),
    [
        (LongerHours("home", "before", 90), "your hours beginning 1 hour 30 minutes earlier"),
        (DatesGivenBack("home", (dt.date(2027, 3, 20), dt.date(2027, 3, 21))), "you at home on 20 to 21 March"),
        (DatesGivenBack("partner", (dt.date(2027, 3, 20),)), "QF4LUM there on 20 March"),
        (MorePower("home", 75.0), "75 W at home"),
        (ModeAdded("partner", "Q65"), "Q65 at QF4LUM"),
        (NightsAdded(("wed", "sun")), "Wednesdays and Sundays among your nights"),
        (LaterHour(dt.time(2)), "02:00 as your latest hour before a working day"),
        (SmallerSunSeparation(2.5), "2.5 degrees as the least distance to the Sun"),
        (MoreSlots(4), "4 slots a night"),
        (LowerNightCost(0.25), "a night cost of 0.25"),
    ],
)
def test_remedies_in_words(remedy: Remedy, told: str) -> None:
    assert remedy_words(remedy, CALL) == told


def test_hours_and_minutes() -> None:
    assert hours_and_minutes(45) == "45 minutes"
    assert hours_and_minutes(60) == "1 hour"
    assert hours_and_minutes(150) == "2 hours 30 minutes"


def test_worth_is_never_told_as_if_it_reached_its_limit() -> None:
    assert worth(0.12, 0.3) == "0.2 of a contact"
    assert worth(0.27, 0.3) == "0.27 of a contact"
    assert worth(0.2999, 0.3) == "hardly less than 0.3 of a contact"
    assert worth(1.0, 20.0) == "1 contact"
    assert worth(4.52, 20.0) == "4.6 contacts"
    assert contacts("0.2") == "0.2 of a contact"
