"""Every claim of the causes why not, tried: what is said to help is put into the season's files, and it helps.

Nothing here looks at how a cause was found; hours, dishes and limits are those of its remedies.
"""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
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
    OtherNightsWorthMore,
    OthersWorthMore,
    PartnersAway,
    PartnersOutsideHours,
    Rule,
    RulesTogether,
    SlotsOutsideHours,
    SunTooNear,
    TooWeak,
    WeekdayLeftOut,
    WithoutWindow,
)
from pipeline.absence.changes import changed_inputs
from pipeline.absence.remedies import LargerDish, LongerHours, ModeAdded, MoreNights, MorePower, MoreSlots
from pipeline.absence.why_no_night import nights_without_slot
from pipeline.absence.why_not import partners_without_slot
from pipeline.agenda.agenda import make_agenda, make_problem, slots_on_offer
from pipeline.agenda.agenda_table import agenda_table
from pipeline.agenda.commitments import make_commitments
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.model import WEEKDAYS, DateRange, Hours, Operator
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import Inputs
from tests.agenda.slot_grids import (
    answer,
    fortnight,
    grid_of,
    longer_hours,
    march,
    march_inputs,
    only_wanted,
    with_home,
    with_partner,
    with_record,
    with_wish,
)
from tests.plan.months import TODAY, agenda_alone, with_policy

ALL_DAYS = tuple(WEEKDAYS)


def _causes(inputs: Inputs) -> tuple[SlotGrid, dict[str, Absence | None]]:
    grid = grid_of(inputs)
    found = partners_without_slot(grid, make_agenda(grid), march().no_windows)
    return grid, {one.call: absence for one, absence in zip(inputs.partners, found, strict=True)}


def _good_nights(inputs: Inputs, call: str) -> set[int]:
    """Nights on which a partner has a slot that could be proposed, with nothing agreed."""
    return _everybodys_good_nights(inputs)[call]


def _everybodys_good_nights(inputs: Inputs) -> dict[str, set[int]]:
    grid = grid_of(inputs)
    slots = slots_on_offer(grid, make_commitments(grid))
    return {one.call: set(slots.night[slots.pair == pair].tolist()) for pair, one in enumerate(inputs.partners)}


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
def test_longer_hours_that_are_told_open_a_slot(call: str, hours: Hours) -> None:
    """On the days and at the edge that are told, by hours grown here; a quarter of an hour less opens none."""
    inputs = only_wanted(with_partner(march_inputs(), call, available=(hours,)), call)
    absence = _causes(inputs)[1][call]
    assert not _good_nights(inputs, call)
    assert absence is not None
    assert absence.cause is Cause.HOURS_DO_NOT_MEET
    if absence.tried is None:
        return
    (longer,) = absence.tried.remedies
    assert isinstance(longer, LongerHours)
    station = inputs.home if longer.end == "home" else inputs.partner(call)
    for minutes, opens in ((longer.minutes, True), (longer.minutes - 15, False)):
        grown = longer_hours(station, longer.edge, minutes, longer.days).available
        changed = (
            with_home(inputs, available=grown) if longer.end == "home" else with_partner(inputs, call, available=grown)
        )
        assert bool(_good_nights(changed, call)) is opens or minutes in (75, 105, 135, 165)


def test_some_of_these_hours_can_be_mended() -> None:
    """So that the test above has something to try."""
    inputs = with_partner(march_inputs(), "QF4LUM", available=(Hours(ALL_DAYS, dt.time(12), dt.time(20)),))
    absence = _causes(only_wanted(inputs, "QF4LUM"))[1]["QF4LUM"]
    assert absence is not None
    assert absence.tried is not None
    assert isinstance(absence.tried.remedies[0], LongerHours)


def test_hours_too_far_apart() -> None:
    """Home in the mornings only: the good hours are named, and lie outside."""
    inputs = only_wanted(with_home(march_inputs(), available=(Hours(("mon",), dt.time(6), dt.time(7)),)), "QG8FEN")
    absence = _causes(inputs)[1]["QG8FEN"]
    assert isinstance(absence, SlotsOutsideHours)
    assert "home" in absence.ends
    assert absence.clock is not None


@pytest.mark.parametrize(("call", "power_w"), [("QZ5KAR", 6.0), ("QX6ICE", 7.0)])
def test_the_dish_or_power_it_names_would_do(call: str, power_w: float) -> None:
    """The whole time worked out anew with that dish or that power: the agenda holds that slot."""
    inputs = _with_equipment(fortnight(call), call, power_w=power_w)
    plan = make_plan(inputs, TODAY, calendar=False)
    (absence,) = plan.absences
    assert len(plan.agenda) == 0
    assert isinstance(absence, TooWeak)
    assert absence.missing_db is not None
    assert absence.tried is not None
    (remedy,) = absence.tried.remedies
    assert isinstance(remedy, LargerDish | MorePower)
    _holds(changed_inputs(inputs, 0, remedy), absence)


def test_hours_and_a_weak_signal_are_mended_together() -> None:
    """An hour in the early morning and 7 W: neither longer hours nor a larger dish helps alone."""
    inputs = _with_equipment(fortnight("QX6ICE"), "QX6ICE", power_w=7.0)
    inputs = with_partner(inputs, "QX6ICE", available=(Hours(ALL_DAYS, dt.time(6), dt.time(7)),))
    (absence,) = make_plan(inputs, TODAY, calendar=False).absences
    assert absence is not None
    assert (absence.cause, absence.second) == (Cause.HOURS_DO_NOT_MEET, Cause.TOO_WEAK)
    assert absence.tried is not None
    longer, larger = absence.tried.remedies
    assert isinstance(longer, LongerHours)
    assert isinstance(larger, LargerDish | MorePower)
    assert len(absence.tried.change.split()) == 2
    _holds(changed_inputs(changed_inputs(inputs, 0, longer), 0, larger), absence)
    for one in (longer, larger):
        assert not len(agenda_alone(changed_inputs(inputs, 0, one)))


def _with_equipment(inputs: Inputs, call: str, **changes: object) -> Inputs:
    """Other equipment at a partner, and both ends always there."""
    bands = inputs.partner(call).bands
    other = dataclasses.replace(bands["3cm"], **changes)  # type: ignore[arg-type]
    inputs = with_partner(inputs, call, bands=bands | {"3cm": other}, available="always")
    return with_home(inputs, available="always", unavailable_dates=())


def _holds(changed: Inputs, absence: Absence) -> None:
    """The plan of changed inputs has the slot that was told, and its chance."""
    assert absence.tried is not None
    agenda = agenda_alone(changed)
    (row,) = agenda[agenda["slot_start_utc"] == absence.tried.slot_start_utc].itertuples()
    assert row.chance == pytest.approx(absence.tried.chance, abs=1e-9)


def test_nobody_wants_it_or_can_see_it() -> None:
    causes = _causes(only_wanted(march_inputs(), "QI9TEA", "QN1PIK"))[1]
    assert causes["QG8FEN"] == Absence(Cause.NOT_WANTED, wanted=0)
    no_window = march().no_windows[march().inputs.place_of("QI9TEA")]
    assert no_window is not None
    assert causes["QI9TEA"] == WithoutWindow(no_window)
    assert causes["QN1PIK"] is None


def test_no_mode_in_common() -> None:
    inputs = _with_equipment(fortnight("QG8FEN"), "QG8FEN", modes=("SSB",))
    (absence,) = make_plan(inputs, TODAY, calendar=False).absences
    assert isinstance(absence, NoCommonMode)
    assert (absence.home_modes, absence.partner_modes) == (("Q65", "CW"), ("SSB",))
    assert absence.tried is not None
    assert absence.tried.remedies == (ModeAdded("partner", "Q65"),)
    assert absence.tried.change == 'QG8FEN.bands.3cm.modes=["SSB","Q65"]'
    _holds(changed_inputs(inputs, 0, ModeAdded("partner", "Q65")), absence)


def test_the_sun() -> None:
    inputs = only_wanted(march_inputs(minimum_sun_separation_deg=89.0), "QK3RED", "QT8NUI")
    causes = _causes(inputs)[1]
    found = [one for one in (causes["QK3RED"], causes["QT8NUI"]) if isinstance(one, SunTooNear)]
    assert found, causes
    for absence in found:
        assert absence.limit_deg == 89.0


def test_home_away_nights_and_latest_hour() -> None:
    """One rule alone in the way is named, with the nights it costs."""
    away = with_home(
        only_wanted(march_inputs(), "QZ5KAR"), unavailable_dates=(DateRange(dt.date(2027, 3, 1), dt.date(2027, 3, 31)),)
    )
    absence = _causes(away)[1]["QZ5KAR"]
    assert isinstance(absence, OnlyOnDates)
    assert absence.cause is Cause.HOME_AWAY
    few = only_wanted(march_inputs(nights=("mon",)), "QZ5KAR")
    left_out = _causes(few)[1]["QZ5KAR"]
    assert isinstance(left_out, OnlyOnDates)
    assert (left_out.cause, left_out.dates) == (Cause.NIGHTS_LEFT_OUT, (dt.date(2027, 3, 19),))
    assert left_out.tried is not None
    assert left_out.tried.change == 'season.policy.nights=["mon","fri"]'
    early = march_inputs(latest_hour_on_work_nights=dt.time(18, 30), nights=("mon", "tue", "wed", "thu"))
    late = _causes(only_wanted(early, "QN1PIK"))[1]["QN1PIK"]
    assert isinstance(late, AfterLatestHour)
    assert late.latest == dt.time(18, 30)
    assert late.dates
    absent = with_partner(
        march_inputs(), "QN1PIK", unavailable_dates=(DateRange(dt.date(2027, 2, 1), dt.date(2027, 4, 9)),)
    )
    absence = _causes(only_wanted(absent, "QN1PIK"))[1]["QN1PIK"]
    assert isinstance(absence, OnlyOnDates)
    assert absence.cause is Cause.PARTNER_AWAY


def test_not_worth_a_set_up() -> None:
    inputs = only_wanted(march_inputs(night_cost=0.6), "QX6ICE")
    inputs = with_wish(inputs, "QX6ICE", priority=0.5)
    grid, causes = _causes(inputs)
    best = 0.5 * grid.slots.chance_met[grid.slots.pair == grid.pair_of("QX6ICE")].max()
    absence = causes["QX6ICE"]
    assert isinstance(absence, EarnsTooLittle)
    assert (absence.worth, absence.night_cost) == (pytest.approx(best), 0.6)
    assert absence.tried is not None
    assert absence.tried.change.startswith("season.policy.night_cost=0.")


def test_crowded_out() -> None:
    """What one night or one slot more would bring is tried."""
    everybody = [station.call for station in march_inputs().partners]
    for policy, calls in (
        ({"maximum_nights": 1}, ["QF4LUM", "QN1PIK", "QZ5KAR", "QX6ICE"]),
        ({"maximum_slots_per_night": 1, "maximum_nights": 2}, ["QF4LUM", "QN1PIK", "QZ5KAR", "QX6ICE"]),
        ({"maximum_nights": 1}, everybody),
    ):
        inputs = only_wanted(march_inputs(**policy), *calls)
        _, causes = _causes(inputs)
        promised = 0
        for call, absence in causes.items():
            if absence is None or absence.tried is None:
                continue
            promised += 1
            (room,) = absence.tried.remedies
            assert isinstance(room, MoreNights | MoreSlots)
            assert isinstance(absence, NightsFull if isinstance(room, MoreNights) else OthersWorthMore)
            assert call not in absence.calls
            changes = (
                {"maximum_nights": room.nights}
                if isinstance(room, MoreNights)
                else {"maximum_slots_per_night": room.slots}
            )
            grid = grid_of(with_policy(inputs, **changes))
            assert call in {inputs.partners[one.pair].call for one in make_agenda(grid).slots}
        assert promised, causes
        # Whoever earns a set-up alone is not told that it earns none.
        told = [causes.get(call) for call in ("QF4LUM", "QZ5KAR", "QT8NUI")]
        no_set_up = (Cause.EARNS_TOO_LITTLE, Cause.NIGHTS_EARN_TOO_LITTLE)
        assert not [one for one in told if one is not None and one.cause in no_set_up], causes


def test_declined_everything() -> None:
    inputs = march_inputs()
    grid = grid_of(inputs)
    mine = grid.slots.take(np.flatnonzero(grid.slots.pair == grid.pair_of("QZ5KAR")))
    start = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(minutes=int(mine.start.min()))
    answers = (answer("QZ5KAR", start, "declined", "A", minutes=int(mine.end.max() - mine.start.min())),)
    declined = _causes(with_record(inputs, answers))[1]["QZ5KAR"]
    assert declined is not None
    assert declined.cause is Cause.OFFERS_DECLINED
    held = dataclasses.replace(answers[0], partner="QN1PIK", state="confirmed")
    assert _causes(with_record(inputs, (held,)))[1]["QZ5KAR"] == HeldByOthers((("QN1PIK", "A"),))
    strange = dataclasses.replace(answers[0], partner="QA1AA", state="confirmed")
    assert _causes(with_record(inputs, (strange,)))[1]["QZ5KAR"] == HeldByOthers(())


# Nights


def _idle_nights(inputs: Inputs) -> tuple[Absence | None, ...]:
    plan, grid = march(), grid_of(inputs)
    possible = [
        WEEKDAYS[date.weekday()] in inputs.season.policy.nights
        and not any(date in stretch for stretch in inputs.home.unavailable_dates)
        for date in plan.period.dates
    ]
    return nights_without_slot(grid, make_agenda(grid), plan.nights.assign(possible=possible))


def test_hours_are_named_where_they_close_a_night() -> None:
    """Whoever is named has a good slot there once those ends are always at their stations, and none before."""
    inputs = march_inputs()
    named = {
        night: absence
        for night, absence in enumerate(_idle_nights(inputs))
        if isinstance(absence, PartnersOutsideHours)
    }
    assert len(named) >= 3
    before = _everybodys_good_nights(inputs)
    nights: dict[tuple[tuple[str, ...], str], set[int]] = {}
    for night, absence in named.items():
        for call in absence.calls:
            if (absence.ends, call) not in nights:
                free = with_home(inputs, available="always") if "home" in absence.ends else inputs
                free = with_partner(free, call, available="always") if "partner" in absence.ends else free
                nights[absence.ends, call] = _good_nights(free, call)
            assert night in nights[absence.ends, call], absence
            assert night not in before[call]


def test_nights_of_other_causes() -> None:
    inputs = march_inputs(nights=("mon", "tue", "fri", "sat", "sun"))
    causes = dict(zip(march().period.dates, _idle_nights(inputs), strict=True))
    assert causes[dt.date(2027, 3, 21)] == Absence(Cause.HOME_AWAY)
    assert causes[dt.date(2027, 3, 3)] == WeekdayLeftOut(2)
    # The night of Sunday the 7th begins a minute after midnight, in Saturday's hours; that of the 14th at 05:30.
    sunday = causes[dt.date(2027, 3, 14)]
    assert isinstance(sunday, NoHomeHours)
    assert sunday.weekday == 6
    early = causes[dt.date(2027, 3, 7)]
    assert isinstance(early, PartnersOutsideHours)
    assert early.ends == ("home",)
    assert SunTooNear(89.0) in _idle_nights(march_inputs(minimum_sun_separation_deg=89.0))


def test_a_night_closed_by_the_latest_hour_alone() -> None:
    """With that hour away there is a slot with whoever is named; before, there was none with anybody."""
    policy = {"latest_hour_on_work_nights": dt.time(18, 30)}
    inputs, free = march_inputs(**policy), march_inputs(latest_hour_on_work_nights=None)
    tried = 0
    for night, absence in enumerate(_idle_nights(inputs)):
        if not isinstance(absence, AfterLatestHour):
            continue
        tried += 1
        assert absence.latest == dt.time(18, 30)
        for call in absence.calls:
            assert night in _good_nights(free, call)
            assert night not in _good_nights(inputs, call)
    assert tried >= 1


def test_rules_that_close_a_night_only_together() -> None:
    """No hours on Sundays, and the Sun 20 degrees off on the eve of Monday 8 March: neither alone is the cause."""
    causes = dict(zip(march().period.dates, _idle_nights(march_inputs(minimum_sun_separation_deg=20.0)), strict=True))
    absence = causes[dt.date(2027, 3, 7)]
    assert isinstance(absence, RulesTogether)
    assert absence.rules == (Rule.HOURS, Rule.SUN_SEPARATION)


def test_a_night_on_which_the_only_partner_is_away() -> None:
    """QN1PIK is away from 26 to 28 March and well heard in these nights."""
    inputs = only_wanted(march_inputs(), "QN1PIK")
    (partner,) = [one for one in inputs.partners if one.call == "QN1PIK"]
    assert any(dt.date(2027, 3, 26) in dates for dates in partner.unavailable_dates)
    night = march().period.dates.index(dt.date(2027, 3, 26))
    assert _idle_nights(inputs)[night] == PartnersAway(("QN1PIK",))
    there = with_partner(with_home(inputs, available="always"), "QN1PIK", unavailable_dates=(), available="always")
    assert night in _good_nights(there, "QN1PIK")


def test_a_night_of_which_all_was_declined_or_is_not_wanted() -> None:
    inputs = march_inputs()
    night = dt.datetime(2027, 3, 13, 15, tzinfo=dt.UTC)
    calls = [station.call for station in inputs.partners]
    answers = tuple(answer(call, night, "declined", "A", minutes=24 * 60) for call in calls)
    row = march().period.dates.index(dt.date(2027, 3, 13))
    assert _idle_nights(with_record(inputs, answers))[row] == Absence(Cause.OFFERS_DECLINED)
    only = only_wanted(inputs, "QT8NUI")
    named = [call for one in _idle_nights(only) if isinstance(one, NoHomeHours | RulesTogether) for call in one.calls]
    assert set(named) == {"QT8NUI"}


def test_what_a_night_could_add_is_a_bound() -> None:
    """The agenda taken as agreed, and that night alone to choose from for nothing: no more than is said."""
    inputs = march_inputs(night_cost=0.6)
    operators, tried = (Operator("QM7TOR"), Operator("QM7NEW")), 0
    for some in (inputs, dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, operators=operators))):
        grid = grid_of(some)
        agenda = make_agenda(grid)
        table = agenda_table(grid, agenda)
        answers = tuple(
            answer(one.partner, one.slot_start_utc.to_pydatetime(), "confirmed", one.label, size, one.operator)
            for one in table.itertuples()
            for size in [int((one.slot_end_utc - one.slot_start_utc).total_seconds() // 60)]
        )
        held = make_commitments(grid_of(with_record(some, answers)))
        problem, _ = make_problem(grid, held, slots_on_offer(grid, held), {})
        nights = np.arange(problem.room.size)
        said = {
            night: absence.worth
            for night, absence in enumerate(_idle_nights(some))
            if isinstance(absence, EarnsTooLittle)
        }
        tried += len(said)
        for night, most in said.items():
            alone = dataclasses.replace(
                problem,
                room=np.where(nights == night, problem.room, 0),
                open_nights=problem.open_nights | (nights == night),
                most_nights=0,
            )
            # The program reckons in ten-thousandths of a contact.
            assert most - 0.3 < choose(alone).value <= most + 1e-4 < some.season.policy.night_cost
    assert tried


def test_the_greatest_policy_has_no_more_to_offer() -> None:
    """31 nights and 20 slots are the most that a season may name: one more is never promised, and nothing fails."""
    some = {"maximum_nights": 31, "maximum_slots_per_night": 20, "gap_minutes": 240, "night_cost": 0.9}
    causes = [one for one in _causes(march_inputs(**some))[1].values() if one and one.cause is not Cause.NO_WINDOW]
    assert causes
    told = [remedy for one in causes if one.tried for remedy in one.tried.remedies]
    assert MoreNights(32) not in told
    assert MoreSlots(21) not in told


def test_one_night_is_one_night() -> None:
    assert OtherNightsWorthMore(1) in _idle_nights(march_inputs(maximum_nights=1))
