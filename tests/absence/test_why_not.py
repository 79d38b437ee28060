"""Every claim of the reasons why not, tried: what is said to help is put into the season's files, and it helps.

Nothing here looks at how a reason was found; hours, dishes and limits named in it are read out of its words.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import numpy as np
import pytest

from pipeline.absence.why_no_night import nights_without_slot
from pipeline.absence.why_not import partners_without_slot, span_words, worth_words
from pipeline.agenda.agenda import make_agenda, make_problem, slots_on_offer
from pipeline.agenda.agenda_table import agenda_table
from pipeline.agenda.commitments import make_commitments
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import Ground
from pipeline.inputs.model import WEEKDAYS, Antenna, DateRange, Hours, Inputs, Operator
from pipeline.plan.plan import make_plan
from tests.agenda.grounds import (
    fortnight,
    ground_of,
    lock,
    longer_hours,
    march,
    march_inputs,
    only_wanted,
    with_home,
    with_partner,
    with_record,
    with_wish,
)
from tests.plan.months import TODAY, with_policy

ALL_DAYS = tuple(WEEKDAYS)
LONGER = re.compile(
    r"(?P<whose>your hours|the hours of (?P<call>\w+)) (?:beginning|ending)"
    r"(?: (?P<hours>\d+) hours?)?(?: (?P<minutes>\d+) minutes?)? (?P<edge>earlier|later)(?: on (?P<days>[\w ,]+?))?"
    r" would open (?:(?P<nights>\d+) nights?|it)(?: for (?P<for>\w+))?$"
)


def _reasons(inputs: Inputs) -> tuple[Ground, dict[str, str]]:
    ground = ground_of(inputs)
    words = dict(zip(march().partners["partner"], march().partners["no_window_reason"], strict=True))
    found = partners_without_slot(ground, make_agenda(ground), words)
    return ground, {one.call: reason for one, reason in zip(inputs.partners, found, strict=True)}


def _good_nights(inputs: Inputs, call: str) -> set[int]:
    """Nights on which a partner has a slot that could be proposed, with nothing agreed."""
    ground = ground_of(inputs)
    slots = slots_on_offer(ground, make_commitments(ground))
    return set(slots.night[slots.pair == ground.pair_of(call)].tolist())


def _grown(inputs: Inputs, said: re.Match[str], call: str) -> Inputs:
    """The season with the hours that a sentence asks for."""
    minutes = 60 * int(said["hours"] or 0) + int(said["minutes"] or 0)
    edge = "before" if said["edge"] == "earlier" else "after"
    days = tuple(day for day in WEEKDAYS if said["days"] and day in said["days"].lower())
    if said["whose"] == "your hours":
        return dataclasses.replace(inputs, home=longer_hours(inputs.home, edge, minutes, days))
    partner = next(one for one in inputs.partners if one.call == call)
    return with_partner(inputs, call, available=longer_hours(partner, edge, minutes, days).available)


@pytest.mark.parametrize(
    ("call", "hours"),
    [
        ("QN1PIK", Hours(("mon", "wed"), dt.time(5), dt.time(11, 30))),
        ("QF4LUM", Hours(ALL_DAYS, dt.time(12), dt.time(18))),
        ("QF4LUM", Hours(("sat", "sun"), dt.time(13), dt.time(18))),
        ("QT8NUI", Hours(ALL_DAYS, dt.time(18), dt.time(22))),
        ("QX6ICE", Hours(("tue", "thu", "sun"), dt.time(8), dt.time(21))),
        ("QG8FEN", Hours(ALL_DAYS, dt.time(12), dt.time(13, 30))),
    ],
)
def test_longer_hours_open_as_many_nights(call: str, hours: Hours) -> None:
    inputs = only_wanted(with_partner(march_inputs(), call, available=(hours,)), call)
    _, reasons = _reasons(inputs)
    assert not _good_nights(inputs, call)
    assert reasons[call].startswith("hours do not meet: ")
    said = LONGER.search(reasons[call])
    if said is None:
        assert "outside" in reasons[call]
        return
    assert len(_good_nights(_grown(inputs, said, call), call)) == int(said["nights"])


def test_some_of_these_hours_can_be_mended() -> None:
    """So that the test above has something to try."""
    inputs = with_partner(march_inputs(), "QF4LUM", available=(Hours(ALL_DAYS, dt.time(12), dt.time(20)),))
    inputs = only_wanted(inputs, "QF4LUM")
    assert LONGER.search(_reasons(inputs)[1]["QF4LUM"])


def test_hours_too_far_apart() -> None:
    """Home in the mornings only: the good hours are named, and lie outside."""
    inputs = only_wanted(with_home(march_inputs(), available=(Hours(("mon",), dt.time(6), dt.time(7)),)), "QG8FEN")
    reason = _reasons(inputs)[1]["QG8FEN"]
    assert "hours do not meet" in reason
    assert "your" in reason


@pytest.mark.parametrize(("call", "power_w"), [("QZ5KAR", 6.0), ("QX6ICE", 7.0)])
def test_the_dish_or_power_it_names_would_do(call: str, power_w: float) -> None:
    """The whole time worked out anew with that dish or that power: it holds a marginal slot, to 0.02."""
    inputs = fortnight(call)
    station = inputs.partners[0]
    weak = dataclasses.replace(station.bands["3cm"], power_w=power_w)
    inputs = with_partner(inputs, call, bands=station.bands | {"3cm": weak}, available="always")
    inputs = with_home(inputs, available="always", unavailable_dates=())
    plan = make_plan(inputs, TODAY)
    reason = plan.partners["no_slot_reason"].iloc[0]
    assert len(plan.agenda) == 0
    assert re.match(r"short by [\d.]+ dB ", reason), reason
    mends = re.findall(r"a dish of ([\d.]+) m at (\w+)|([\d.]+) W at (\w+)", reason)
    assert mends, reason
    for size, dish_at, watts, power_at in mends:
        owner = inputs.home if "home" in (dish_at, power_at) else inputs.partners[0]
        now = owner.bands["3cm"]
        changes = (
            {"power_w": float(watts)}
            if watts
            else {"antenna": Antenna(dish_diameter_m=float(size), aperture_efficiency=now.antenna.aperture_efficiency)}
        )
        bands = owner.bands | {"3cm": dataclasses.replace(now, **changes)}
        better = with_home(inputs, bands=bands) if owner is inputs.home else with_partner(inputs, call, bands=bands)
        assert make_plan(better, TODAY).windows["chance"].max() >= 0.23, (size, dish_at, watts, power_at)


def test_nobody_wants_it_or_can_see_it() -> None:
    reasons = _reasons(only_wanted(march_inputs(), "QI9TEA", "QN1PIK"))[1]
    assert reasons["QG8FEN"] == "no contact is wanted (contacts_wanted is 0)"
    assert reasons["QI9TEA"].startswith("no window: whenever QM7TOR sees the Moon")
    assert reasons["QN1PIK"] == ""


def test_no_mode_in_common() -> None:
    inputs = fortnight("QG8FEN")
    station = inputs.partners[0]
    speech = dataclasses.replace(station.bands["3cm"], modes=("SSB",))
    plan = make_plan(with_partner(inputs, "QG8FEN", bands=station.bands | {"3cm": speech}), TODAY)
    assert plan.partners["no_slot_reason"].iloc[0] == "no mode in common: home has Q65 and CW, QG8FEN has SSB"


def test_the_sun() -> None:
    inputs = only_wanted(march_inputs(minimum_sun_separation_deg=89.0), "QK3RED", "QT8NUI")
    reasons = _reasons(inputs)[1]
    smaller = march_inputs(minimum_sun_separation_deg=0.0)
    for call in ("QK3RED", "QT8NUI"):
        if not reasons[call].startswith("the Sun"):
            continue
        said = re.search(r"would open (\d+) nights?$", reasons[call])
        assert said
        assert len(_good_nights(smaller, call)) == int(said[1])
        return
    raise AssertionError(reasons)


def test_home_away_nights_and_latest_hour() -> None:
    """One rule alone in the way is named, with the nights it costs."""
    away = with_home(
        only_wanted(march_inputs(), "QZ5KAR"), unavailable_dates=(DateRange(dt.date(2027, 3, 1), dt.date(2027, 3, 31)),)
    )
    assert _reasons(away)[1]["QZ5KAR"].startswith("only when home is away: ")
    few = only_wanted(march_inputs(nights=("mon",)), "QZ5KAR")
    reason = _reasons(few)[1]["QZ5KAR"]
    assert reason == "only on nights that your policy leaves out: Fri 19 March"
    early = march_inputs(latest_hour_on_work_nights=dt.time(18, 30), nights=("mon", "tue", "wed", "thu"))
    reason = _reasons(only_wanted(early, "QN1PIK"))[1]["QN1PIK"]
    assert reason.startswith("only later than your latest hour before a working day (18:30): ")
    absent = with_partner(
        march_inputs(), "QN1PIK", unavailable_dates=(DateRange(dt.date(2027, 2, 1), dt.date(2027, 4, 9)),)
    )
    assert _reasons(only_wanted(absent, "QN1PIK"))[1]["QN1PIK"].startswith("only when QN1PIK is away: ")


def test_not_worth_a_set_up() -> None:
    inputs = only_wanted(march_inputs(night_cost=0.6), "QX6ICE")
    inputs = with_wish(inputs, "QX6ICE", priority=0.5)
    ground, reasons = _reasons(inputs)
    best = 0.5 * ground.slots.chance[ground.slots.pair == ground.pair_of("QX6ICE")].max()
    said = re.search(r"it earns ([\d.]+) of a contact at best, and a night costs 0.6", reasons["QX6ICE"])
    assert said
    assert best <= float(said[1]) <= best + 0.1


def test_crowded_out() -> None:
    """What one night or one slot more would bring is tried."""
    everybody = [station.call for station in march_inputs().partners]
    for policy, calls in (
        ({"maximum_nights": 1}, ["QF4LUM", "QN1PIK", "QZ5KAR", "QX6ICE"]),
        ({"maximum_slots_per_night": 1, "maximum_nights": 2}, ["QF4LUM", "QN1PIK", "QZ5KAR", "QX6ICE"]),
        ({"maximum_nights": 1}, everybody),
    ):
        inputs = only_wanted(march_inputs(**policy), *calls)
        _, reasons = _reasons(inputs)
        promised = 0
        for call, reason in reasons.items():
            said = re.search(
                r"worth less than ([\w, ]+); with (\d+) (nights|slots a night) it would have (?:a slot|one)", reason
            )
            if not said:
                continue
            promised += 1
            key = "maximum_nights" if said[3] == "nights" else "maximum_slots_per_night"
            ground = ground_of(with_policy(inputs, **{key: int(said[2])}))
            assert call in {inputs.partners[one.pair].call for one in make_agenda(ground).slots}
        assert promised, reasons
        # Whoever earns a set-up alone is not told that it earns none.
        assert not [call for call in ("QF4LUM", "QZ5KAR", "QT8NUI") if "set-up" in reasons.get(call, "")], reasons


def test_declined_everything() -> None:
    inputs = march_inputs()
    ground = ground_of(inputs)
    mine = ground.slots.take(np.flatnonzero(ground.slots.pair == ground.pair_of("QZ5KAR")))
    start = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(minutes=int(mine.start.min()))
    locks = (lock("QZ5KAR", start, "declined", "A", minutes=int(mine.end.max() - mine.start.min())),)
    reason = _reasons(with_record(inputs, locks))[1]["QZ5KAR"]
    assert reason.startswith("what was offered is declined")
    held = dataclasses.replace(locks[0], partner="QN1PIK", state="confirmed")
    reason = _reasons(with_record(inputs, (held,)))[1]["QZ5KAR"]
    assert reason == "what is agreed with QN1PIK A holds the dish whenever it could be worked"
    strange = dataclasses.replace(locks[0], partner="QA1AA", state="confirmed")
    reason = _reasons(with_record(inputs, (strange,)))[1]["QZ5KAR"]
    assert reason == "what is agreed with a station that is no partner now holds the dish whenever it could be worked"


# Nights


def _night_reasons(inputs: Inputs) -> list[str]:
    plan, ground = march(), ground_of(inputs)
    possible = [
        WEEKDAYS[date.weekday()] in inputs.season.policy.nights
        and not any(date in stretch for stretch in inputs.home.unavailable_dates)
        for date in plan.period.dates
    ]
    return nights_without_slot(ground, make_agenda(ground), plan.nights.assign(possible=possible))


def test_hours_that_would_open_a_night() -> None:
    inputs, tried = march_inputs(), 0
    for night, reason in enumerate(_night_reasons(inputs)):
        said = LONGER.search(reason)
        if said:
            tried += 1
            call = said["call"] or said["for"]
            assert night in _good_nights(_grown(inputs, said, call), call), reason
            assert night not in _good_nights(inputs, call)
    assert tried >= 3


def test_nights_of_other_causes() -> None:
    inputs = march_inputs(nights=("mon", "tue", "fri", "sat", "sun"))
    reasons = dict(zip(march().period.dates, _night_reasons(inputs), strict=True))
    assert reasons[dt.date(2027, 3, 21)] == "home is away"
    assert reasons[dt.date(2027, 3, 3)] == "Wednesdays are not among your nights"
    assert reasons[dt.date(2027, 3, 7)].startswith("you give no hours for Sunday nights; ")
    sunny = _night_reasons(march_inputs(minimum_sun_separation_deg=89.0))
    assert any(reason == "the Sun is within 89 degrees of the Moon" for reason in sunny)


def test_a_night_closed_by_the_latest_hour_alone() -> None:
    """With that hour away there is a slot with whoever is named; before, there was none with anybody."""
    policy = {"latest_hour_on_work_nights": dt.time(18, 30)}
    inputs, free = march_inputs(**policy), march_inputs(latest_hour_on_work_nights=None)
    tried = 0
    for night, reason in enumerate(_night_reasons(inputs)):
        if (said := re.match(r"(\w+)[\w, ]* could be worked only later than your latest hour", reason)) is None:
            continue
        tried += 1
        assert night in _good_nights(free, said[1])
        assert night not in _good_nights(inputs, said[1])
    assert tried >= 1


def test_rules_that_close_a_night_only_together() -> None:
    """No hours on Sundays, and the Sun 20 degrees off on the eve of Monday 8 March: neither alone is the cause."""
    reasons = dict(
        zip(march().period.dates, _night_reasons(march_inputs(minimum_sun_separation_deg=20.0)), strict=True)
    )
    assert reasons[dt.date(2027, 3, 7)].startswith("several rules together leave no time for ")
    assert reasons[dt.date(2027, 3, 7)].endswith(": hours and distance to the Sun")


def test_a_night_on_which_the_only_partner_is_away() -> None:
    """QN1PIK is away from 26 to 28 March and well heard in these nights."""
    inputs = only_wanted(march_inputs(), "QN1PIK")
    (partner,) = [one for one in inputs.partners if one.call == "QN1PIK"]
    assert any(dt.date(2027, 3, 26) in dates for dates in partner.unavailable_dates)
    night = march().period.dates.index(dt.date(2027, 3, 26))
    assert _night_reasons(inputs)[night] == "QN1PIK could be worked, but is away"
    there = with_partner(with_home(inputs, available="always"), "QN1PIK", unavailable_dates=(), available="always")
    assert night in _good_nights(there, "QN1PIK")


def test_a_night_of_which_all_was_declined_or_is_not_wanted() -> None:
    inputs = march_inputs()
    night = dt.datetime(2027, 3, 13, 15, tzinfo=dt.UTC)
    calls = [station.call for station in inputs.partners]
    locks = tuple(lock(call, night, "declined", "A", minutes=24 * 60) for call in calls)
    row = march().period.dates.index(dt.date(2027, 3, 13))
    assert _night_reasons(with_record(inputs, locks))[row] == "what could be worked was declined"
    only = only_wanted(inputs, "QT8NUI")
    assert "QN1PIK" not in " ".join(_night_reasons(only))


def test_what_a_night_could_add_is_a_bound() -> None:
    """The agenda taken as agreed, and that night alone to choose from for nothing: no more than is said."""
    inputs = march_inputs()
    operators = (Operator("QM7TOR"), Operator("QM7NEW"))
    for some in (inputs, dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, operators=operators))):
        ground = ground_of(some)
        agenda = make_agenda(ground)
        table = agenda_table(ground, agenda)
        locks = tuple(
            lock(one.partner, one.slot_start_utc.to_pydatetime(), "confirmed", one.label, size, one.operator)
            for one in table.itertuples()
            for size in [int((one.slot_end_utc - one.slot_start_utc).total_seconds() // 60)]
        )
        held = make_commitments(ground_of(with_record(some, locks)))
        problem, _ = make_problem(ground, held, slots_on_offer(ground, held), {})
        nights = np.arange(problem.room.size)
        said = {
            night: float(found[1])
            for night, reason in enumerate(_night_reasons(some))
            if (found := re.search(r"it could add at most ([\d.]+) of a contact", reason))
        }
        assert said
        for night, most in said.items():
            alone = dataclasses.replace(
                problem, room=np.where(nights == night, problem.room, 0), open_nights=nights == night, most_nights=0
            )
            assert most - 0.3 < choose(alone).value <= most < some.season.policy.night_cost


def test_words() -> None:
    assert span_words(45) == "45 minutes"
    assert span_words(60) == "1 hour"
    assert span_words(150) == "2 hours 30 minutes"
    assert worth_words(0.12, 0.3) == "0.2 of a contact"
    assert worth_words(0.27, 0.3) == "0.27 of a contact"
    assert worth_words(0.2999, 0.3) == "hardly less than 0.3 of a contact"
    assert worth_words(1.0, 20.0) == "1 contact"
    assert worth_words(4.52, 20.0) == "4.6 contacts"


def test_the_greatest_policy_has_no_more_to_offer() -> None:
    """31 nights and 20 slots are the most that a season may name: one more is never promised, and nothing fails."""
    some = {"maximum_nights": 31, "maximum_slots_per_night": 20, "gap_minutes": 240, "night_cost": 0.9}
    _, reasons = _reasons(march_inputs(**some))
    told = [reason for reason in reasons.values() if reason and not reason.startswith("no window")]
    assert told
    assert not [reason for reason in told if "with 32" in reason or "with 21" in reason]


def test_one_night_is_one_night() -> None:
    reasons = _night_reasons(march_inputs(maximum_nights=1))
    assert "the one night that your policy allows is worth more on another date" in reasons
    assert not [reason for reason in reasons if "1 nights" in reason]
