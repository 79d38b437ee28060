"""`policy.sites: best`: a plan whose home moves, against the plans made at each site, and every way out of it."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.agenda.commitments import make_commitments
from pipeline.agenda.notes import Proof
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.explain.explain import explain
from pipeline.inputs.letter_keys import Letters, Sender
from pipeline.inputs.sites import at_site
from pipeline.letters.chat import chat_message
from pipeline.letters.home_words import home_line, home_locators, home_section
from pipeline.letters.offered import in_agenda_of_all
from pipeline.letters.offers import offered_slots
from pipeline.letters.told import with_told
from pipeline.outlook.night_sites import choose_sites
from pipeline.outlook.site_choice import filled
from pipeline.outlook.sites import make_sites
from pipeline.plan.plan import Plan, make_plan
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import told_of
from pipeline.record.model import CONFIRMED, DECLINED, Answer, Offer, OfferedTime, Record, Told
from pipeline.reports.agenda_view import agenda_view
from pipeline.reports.calendar import footer_text
from pipeline.reports.method_view import method_view
from pipeline.reports.partner_view import partners_view
from pipeline.reports.plan_on_disk import require_plan, with_sites_on_disk
from pipeline.reports.tables import csv_text, frames, run_json
from pipeline.reports.views import PAPERS
from pipeline.review.compare import compare, compare_at
from pipeline.windows.standing import sites_agreed
from pipeline.wording.agenda import note_words
from pipeline.wording.sites import siting_words
from tests.letters.letters_of import our_templates
from tests.outlook.test_sites import FIRST, world
from tests.plan.months import TODAY, survey_of, with_policy
from tests.review.test_comparison import entry

WEST, EAST = "West Wall", "East Wall"


def moving(**policy: object) -> Inputs:
    inputs = world(sites="best", site_change_cost=0.02, **policy)
    letters = Letters(sender=Sender(name="Ada", email="ada@west-wall.example"))
    return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, letters=letters))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(moving(), TODAY)


def at(inputs: Inputs, site: str) -> Inputs:
    """The same season at one site alone."""
    return dataclasses.replace(with_policy(inputs, sites="one"), home=inputs.home_at(site), sites={})


def sites_of(plan: Plan) -> list[str]:
    return [plan.inputs.sites[night] for night in plan.nights_with_slots]


def test_the_agenda_is_the_best_choice_of_sites_and_slots(plan: Plan) -> None:
    compared = make_sites(moving(), TODAY)
    choice = compared.choice
    assert {plan.period.dates[night]: (WEST, EAST)[site] for night, site in choice.at.items()} == {
        night: plan.inputs.sites[night] for night in plan.nights_with_slots
    }
    assert set(sites_of(plan)) == {WEST, EAST}
    assert plan.contacts_expected == pytest.approx(choice.contacts)
    assert plan.siting is not None
    assert plan.siting.net == pytest.approx(choice.net)
    assert list(plan.agenda["site"]) == [plan.inputs.sites[night] for night in plan.agenda["night"]]
    # What each site alone would bring, its way paid, is no better.
    for one in compared.sites:
        assert plan.siting.net >= one.month.net - 1e-4


def test_each_night_is_as_the_plan_made_at_its_site_has_it(plan: Plan) -> None:
    for site in (WEST, EAST):
        here = at(plan.inputs, site)
        alone = survey_of(here)
        rises = {alone.sky.instant(time) for time in alone.home_above_horizon(here.home).start_s}
        mine = plan.nights[plan.nights["site"] == site]
        assert {when.to_pydatetime() for when in mine["home_moonrise_utc"]} <= rises
        nights = {night for night, name in plan.inputs.sites.items() if name == site}
        for name in ("windows", "samples"):
            mine, theirs = getattr(plan, name), getattr(alone, name)
            mine = mine[mine["night"].isin(nights)].reset_index(drop=True)
            theirs = theirs[theirs["night"].isin(nights)].reset_index(drop=True)
            # Nights begin at the lowest point of the Moon over home's own place: the Moon is down at both sites then.
            pd.testing.assert_frame_equal(mine, theirs, check_exact=False, rtol=1e-9, atol=1e-9)
    order = [station.call for station in plan.inputs.partners]
    place = plan.windows["partner"].map(order.index)
    assert list(zip(place, plan.windows["window_start_utc"], strict=True)) == sorted(
        zip(place, plan.windows["window_start_utc"], strict=True)
    )
    assert list(plan.nights["site"]) == [plan.inputs.sites[night] for night in plan.period.dates]


def test_a_dear_change_keeps_one_site_and_a_dear_road_the_near_one() -> None:
    for dear, site in (({"site_change_cost": 5.0}, None), ({"travel_hour_cost": 5.0}, WEST)):
        made = choose_sites(with_policy(moving(), **dear), TODAY, lambda _: None)
        assert made is not None
        assert made.choice.changes == 0
        assert set(made.inputs.sites.values()) == {site or made.inputs.sites[FIRST]}


def test_what_is_agreed_or_offered_keeps_its_site(plan: Plan) -> None:
    other = {WEST: EAST, EAST: WEST}
    slot = plan.slots[0]
    wrong = other[plan.inputs.sites[slot.night]]
    answer = Answer(slot.call, slot.label, slot.start, slot.end, CONFIRMED, slot.operator, 1, site=wrong)
    made = choose_sites(dataclasses.replace(moving(), record=Record(answers=(answer,))), TODAY, lambda _: None)
    assert made is not None
    assert made.inputs.sites[slot.night] == wrong
    assert (plan.period.dates.index(slot.night), (WEST, EAST).index(wrong)) in made.choice.held_at
    # The slot itself counts as it is there, and nothing else is put on that night from elsewhere.
    grid = make_slot_grid(made.inputs, made.survey.period, made.survey.windows, made.survey.samples, made.survey.modes)
    assert [one.night for one in make_commitments(grid).kept] == [plan.period.dates.index(slot.night)]


def test_of_an_agreed_night_the_record_tells_the_site(plan: Plan) -> None:
    slot = plan.slots[0]
    answer = Answer(slot.call, slot.label, slot.start, slot.end, CONFIRMED, slot.operator, 1)
    told = Told(10368.1, 10368.1, "CW", "home", "", (), (), site=EAST)
    offer = Offer(slot.uid, slot.call, slot.operator, slot.label, slot.start, slot.end, 0, False, told=told)
    gone = dataclasses.replace(offer, withdrawn=True)
    refused = dataclasses.replace(answer, state=DECLINED)
    other = OfferedTime("C", slot.start, slot.end, EAST)
    moved = dataclasses.replace(
        offer, start_utc=slot.end, end_utc=slot.end + (slot.end - slot.start), alternatives=(other,)
    )
    for answers, offers, site in (
        ((), (), None), ((dataclasses.replace(answer, site=EAST),), (), EAST),
        # Nobody said where, or at a site that there is no more: home's own place.
        ((answer,), (), WEST), ((dataclasses.replace(answer, site="Sold Field"),), (), WEST),
        # What the letter said, of the slot or of the other time that the partner took.
        ((), (offer,), EAST), ((answer,), (offer,), EAST), ((answer,), (moved,), EAST),
        ((), (gone,), None), ((refused,), (offer,), None),
    ):  # fmt: skip
        inputs = dataclasses.replace(plan.inputs, record=Record(answers=answers, offers=offers), sites={})
        assert sites_agreed(inputs, plan.period).get(slot.night) == site


def test_nights_between_stay_where_home_was_last() -> None:
    assert filled({4: 1, 1: 0, 2: 2}, 6).tolist() == [0, 0, 2, 2, 1, 1]
    assert filled({}, 2).tolist() == [0, 0]


def test_a_choice_made_is_not_made_again(plan: Plan) -> None:
    assert choose_sites(plan.inputs, TODAY, lambda _: None) is None
    again = make_plan(plan.inputs, TODAY)
    assert again.inputs.sites == plan.inputs.sites
    assert [(one.call, one.start, one.end) for one in again.slots] == [
        (one.call, one.start, one.end) for one in plan.slots
    ]
    pd.testing.assert_frame_equal(again.windows, plan.windows)


def test_the_sites_are_found_again_on_the_disk(plan: Plan, tmp_path: Path) -> None:
    folder = tmp_path / plan.period.name / "data"
    folder.mkdir(parents=True)
    (folder / "run.json").write_text(run_json(plan))
    assert json.loads((folder / "run.json").read_text())["sites"] == {
        night.isoformat(): name for night, name in plan.inputs.sites.items()
    }
    assert with_sites_on_disk(moving(), tmp_path).sites == plan.inputs.sites
    assert require_plan(moving(), plan, tmp_path).sites == plan.inputs.sites
    (tmp_path / "broken" / "data").mkdir(parents=True)
    (tmp_path / "broken" / "data" / "run.json").write_text("{")
    assert with_sites_on_disk(moving(), tmp_path).sites == plan.inputs.sites
    assert with_sites_on_disk(at(moving(), WEST), tmp_path).sites == {}


def test_explain_and_review_stand_where_home_stood(plan: Plan) -> None:
    for night in plan.nights_with_slots:
        slot = next(one for one in plan.slots if one.night == night)
        row = plan.samples[
            (plan.samples["partner"] == slot.call)
            & (plan.samples["time_utc"] >= slot.start)
            & (plan.samples["time_utc"] <= slot.end)
        ].iloc[0]
        made = explain(plan.inputs, slot.call, row["time_utc"].to_pydatetime())
        assert made.site == plan.inputs.sites[night]
        for name in ("home_azimuth_deg", "snr_at_partner_db", "margin_at_home_db"):
            assert made.columns[name] == pytest.approx(row[name], abs=1e-6)
    # Of what is told in the record the plan need not know anything.
    instants = [one.start + dt.timedelta(minutes=20) for one in plan.slots]
    entries = [
        entry(slot.call, f"{when:%Y-%m-%dT%H:%M:%S}", "CW", operator="QA1AAA")
        for slot, when in zip(plan.slots, instants, strict=True)
    ]
    predicted = compare(entries, plan.inputs)
    answers = tuple(
        Answer(one.call, one.label, one.start, one.end, CONFIRMED, "QA1AAA", 1, site=plan.inputs.sites[one.night])
        for one in plan.slots
    )
    recorded = compare(entries, dataclasses.replace(moving(), record=Record(answers=answers)))
    pd.testing.assert_frame_equal(predicted, recorded)
    for site in (WEST, EAST):
        alone = compare_at(entries, at(plan.inputs, site))
        for row, slot in enumerate(plan.slots):
            apart = abs(predicted["home_elevation_deg"][row] - alone["home_elevation_deg"][row])
            assert (apart < 1e-4) == (plan.inputs.sites[slot.night] == site)


def test_sheets_stand_at_the_nights_site(plan: Plan) -> None:
    for night in plan.nights_with_slots:
        view = plan.night(night)
        assert view.inputs.home == at_site(
            plan.inputs.home, next(one for one in plan.inputs.home.sites if one.name == plan.inputs.sites[night])
        )
        assert view.inputs.sites == {}


def test_letters_name_the_place_of_each_slot(plan: Plan) -> None:
    told = set()
    for station in plan.inputs.partners:
        view = plan.for_partner(station.call)
        slots = offered_slots(view)
        text = "\n".join(home_section(view, slots).points)
        locators = home_locators(view, slots)
        for slot, made in zip(slots, with_told(view, slots, ""), strict=True):
            home = view.home_at(slot.start_utc)
            told.add(home.title)
            assert home.title == plan.inputs.sites[next(one.night for one in plan.slots if one.uid == slot.uid)]
            assert f"{home.position.latitude_deg:.2f}° N" in text
            assert f", at {home.title}, " in home_line(view, slot)
            assert made.told is not None
            assert made.told.site == home.title
            assert told_of(made.told.entry) == made.told
        if len({view.home_at(slot.start_utc).title for slot in slots}) > 1:
            assert locators.count("(") == 2
            assert text.count("Our place in slot ") == 2
        elif slots:
            assert "(" not in locators
        assert len(chat_message(view, our_templates())) <= 600
    assert told == {WEST, EAST}
    # Where home does not move no letter knows of sites.
    assert "site" not in Told(10368.1, 10368.1, "CW", "home", "", (), ()).entry


def test_pages_say_where_home_is_set_up(plan: Plan) -> None:
    # What the agenda says of itself holds at these sites; of their choice the line before tells.
    proof = next(note_words(one) for one in plan.agenda_notes if isinstance(one, Proof))
    assert proof.startswith("This agenda is proven the best: no other at these sites is worth more")
    (first, *_) = siting_words(plan.inputs, plan.nights_with_slots, plan.siting)
    page = agenda_view(plan)
    assert first in page.notes
    assert f"{WEST} on " in first
    assert f"{EAST} on " in first
    for night, shown in zip(plan.nights_with_slots, page.nights, strict=True):
        site = plan.inputs.sites[night]
        assert shown.begin.startswith(f"be at {site} (1 h away) at " if site == EAST else f"be at {site} at ")
    assert f"{WEST} and {EAST}" in footer_text(plan) or f"{EAST} and {WEST}" in footer_text(plan)
    assert {f"{name} is planned with a surveyed horizon." for name in (WEST, EAST)} <= set(method_view(plan).policy)
    for block in partners_view(plan, PAPERS["A4"]).blocks:
        nights = [one.night for one in plan.slots if one.call == block.call]
        if nights and block.strip:
            assert block.facts[-1] in {f"sky at {plan.inputs.sites[night]}" for night in nights}
    assert list(frames(plan)["agenda"]["site"]) == list(plan.agenda["site"])
    assert np.isin(["site"], frames(plan)["nights"].columns).all()


def test_an_answer_to_what_the_plan_offers_notes_the_site(plan: Plan, tmp_path: Path) -> None:
    written = frames(plan)
    for name in ("agenda", "alternatives"):
        (tmp_path / f"{name}.csv").write_text(csv_text(written[name].assign(label="A")))
        offered = in_agenda_of_all(tmp_path / f"{name}.csv")
        assert [one.site for one in offered] == list(written[name]["site"])
    for one in in_agenda_of_all(tmp_path / "agenda.csv"):
        assert one.said("yes", one.start_utc).site == one.said("made", one.start_utc).site == one.site
