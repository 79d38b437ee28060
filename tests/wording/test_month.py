"""The words of the month page: short for a cell, whole sentences for the panel; each says no more than its value."""

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pytest

from pipeline.outlook.chosen_nights import ChosenNight
from pipeline.outlook.facts import Fact, FactKind
from pipeline.outlook.trips import Trips
from pipeline.wording import month
from tests.outlook.some_trips import some_trips

NIGHT = dt.date(2027, 3, 5)
ZONE = ZoneInfo("America/Montevideo")


def test_the_figure_of_a_cell() -> None:
    assert month.brings_words(1.84) == "brings 1.8"
    assert month.brings_words(0.02) == "brings under 0.1"
    assert month.by_itself_words(0.0) == "0 by itself"
    assert month.would_add_words(0.05) == "would add 0.1"
    assert month.would_add_words(0.049) == ""
    assert (month.closed_words(True), month.closed_words(False)) == ("home away", "not your night")


@pytest.mark.parametrize(
    ("heard", "free", "reach", "words"),
    [
        (9, 3, 9, "9 heard, 3 free"),
        (5, 0, 6, "5 heard, nobody free"),
        (0, 0, 4, "nobody heard"),
        (0, 0, 0, "no window"),
    ],
)
def test_who_could_be_heard(heard: int, free: int, reach: int, words: str) -> None:
    assert month.heard_words(heard, free, reach) == words


def test_an_arrival_on_another_date_has_its_weekday() -> None:
    """Montevideo is three hours behind UTC all year (IANA time-zone database)."""
    at = dt.datetime(2027, 3, 6, 2, 30, tzinfo=dt.UTC)
    assert month.arrive_words(at, ZONE, NIGHT) == "arrive 23:30, not free"
    assert month.arrive_words(at + dt.timedelta(hours=1), ZONE, NIGHT) == "arrive Sat 00:30, not free"
    assert month.on_site_words(0.49, at, at + dt.timedelta(hours=3), ZONE) == "brings 0.5, on site 23:30 to 02:30"


def test_the_lead_counts_partners_and_states() -> None:
    assert (
        month.lead_words(6.24, 8, 9, ["proposed"] * 2)
        == "6.2 contacts to expect, with 8 of 9 partners. Slots: 2 proposed."
    )
    assert month.lead_words(1.0, 1, 1, ["tentative", "confirmed"]).endswith(
        "1 partner. Slots: 1 confirmed and 1 tentative."
    )


def test_why_a_night_was_chosen() -> None:
    few = (("QK3RED", (NIGHT, dt.date(2027, 3, 6), dt.date(2027, 3, 27))), ("QA1LAV", (NIGHT, dt.date(2027, 4, 1))))
    chosen = ChosenNight(NIGHT, 0.5, ("QF4LUM",), few[:1], ("QJ2KAW", 4), ("QF4LUM", "QX6ICE"))
    assert month.chosen_words(chosen, ()) == (
        "The only night for QF4LUM. QK3RED can be met on 5, 6 and 27 March only."
    ), "what would be too long is left out whole"
    assert (
        month.chosen_words(ChosenNight(NIGHT, 0.5, few=few[1:]), ()) == "QA1LAV can be met on 5 March and 1 April only."
    )
    best = ChosenNight(NIGHT, 0.5, best_of=("QJ2KAW", 4))
    near = Fact(FactKind.SUN_NEAR, angle_deg=9.2)
    assert month.chosen_words(best, (near,)) == (
        "Worth most of the 4 nights on which QJ2KAW can be met. The Sun is 9 degrees away."
    )


def test_a_night_without_a_reason_of_its_own_has_its_facts() -> None:
    far = Fact(FactKind.MOON_DISTANCE, distance_km=384_000.0, loss_db=1.4)
    assert month.chosen_words(ChosenNight(NIGHT, 0.5), (far,)).startswith("The Moon at 384,000 km")


def test_who_is_out_of_reach() -> None:
    assert month.out_of_reach_words([], []) == ""
    calls = [f"QA{number}LAV" for number in range(8)]
    assert month.out_of_reach_words(["QI9TEA"], calls) == (
        "Out of reach: QI9TEA (no window); QA0LAV, QA1LAV, QA2LAV, QA3LAV, QA4LAV and 3 more (no usable slot)."
    )


def test_a_reserve_or_none() -> None:
    assert month.reserve_note(dt.date(2027, 3, 18), ("QX6ICE",)) == "In reserve: Thu 18 March, for QX6ICE."
    assert month.reserve_note(None, ()) == "No later night could hold any of them."


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (some_trips(1.9, 4.2, 6.0, 6.2, 6.22, chosen=3), "A fourth night would add 0.2, a fifth hardly anything; "),
        (some_trips(1.9, 4.2, chosen=2), "A further night would add hardly anything; "),
        (some_trips(1.9, 1.85, chosen=1), "A second night would add hardly anything; "),
    ],
)
def test_what_further_nights_would_add(rows: tuple[Trips, ...], words: str) -> None:
    assert month.set_ups_words(rows, 0.3) == f"{words}a set-up must earn 0.3 by your priorities."


def test_an_agenda_of_other_nights_says_so() -> None:
    assert "other nights" in month.set_ups_words(some_trips(1.9, 4.2, chosen=None), 0.3)


def test_the_curve_tells_its_message() -> None:
    assert month.set_ups_title(some_trips(1.9, 4.2, chosen=2)) == (
        "Contacts to expect by number of nights: 1.9 from 1 and 4.2 from 2; this agenda has 2 nights"
    )


def test_the_key_defines_every_figure_of_a_cell() -> None:
    key = " ".join(month.key_words(southern=True))
    for word in ("Brings:", "By itself:", "Would add:", "Heard:", "free:", "not free:"):
        assert word in key
    assert "southern" in key
    assert "northern" in " ".join(month.key_words(southern=False))
    assert not re.search(r"\d\.\d", key), "figures stand in the cells alone"
