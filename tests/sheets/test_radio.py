"""The radio sheet: printed dials against the samples of the plan, sums that add up, searches by hand, the log."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import math
import re
from functools import cache
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader

from pipeline.agenda.replan import Change, Fate
from pipeline.inputs.modes import Mode
from pipeline.operating.dialing import CONVENTIONS, dial_shifts, shifts_of_samples
from pipeline.operating.dials import slot_times
from pipeline.operating.night_track import make_night_track
from pipeline.operating.search import Trouble, search_of
from pipeline.operating.search_width import fastest_hz_per_s, place_hz
from pipeline.record.log_csv import LOG_COLUMNS, Log
from pipeline.record.night_log import log_files, log_of, merged, outcomes
from pipeline.reports.rendering import render_document
from pipeline.sheets.document import sheets_document, sheets_view
from pipeline.sheets.echo_finding import averaging_minutes, find_echo
from pipeline.sheets.own_echo import finding_words
from pipeline.sheets.radio_sheet import RadioSheet, RadioSlot, _only_if, radio_sheet
from pipeline.sheets.setup_sheet import setup_sheet
from pipeline.wording.operating import kilohertz, megahertz, open_answers, search_words, trouble_words
from tests.conftest import Outside
from tests.sheets.invented_agenda import EMPTY_NIGHT, NIGHT, SLOTS, night_files, night_plan, with_agenda

ten_hertz = 10.0
NO_BREAK = "\N{NO-BREAK SPACE}"


@cache
def _radio(
    convention: str = CONVENTIONS[0], modes: tuple[str, ...] | None = None, accuracy: float | None = None
) -> RadioSheet:
    plan = night_plan("A4", modes, accuracy, dialing=convention)
    slots = plan.night(NIGHT).slots
    track = make_night_track(plan.inputs, NIGHT, plan.period.edges_of(NIGHT), [(s.start, s.end) for s in slots])
    return radio_sheet(plan.night(NIGHT), track)


def _fact(slot: RadioSlot, head: str) -> str:
    return next(fact.words for fact in slot.facts if fact.head == head)


def _hz(words: str) -> float:
    return float(words.replace(NO_BREAK, "").replace(" ", "")) * 1e6


@pytest.mark.parametrize("convention", CONVENTIONS)
def test_printed_dials_follow_the_samples(convention: str, outside: Outside) -> None:
    """The sheet works from the sky of the night, samples.csv from that of the month: both lead to the same dial."""
    plan = night_plan("A4", None, None, dialing=convention)
    worst = 0.0
    for slot, printed in zip(plan.night(NIGHT).slots, _radio(convention).pages[0], strict=True):
        window = plan.windows[(plan.windows["partner"] == slot.call) & (plan.windows["night"] == NIGHT)].iloc[0]
        mine = plan.samples[plan.samples["partner"] == slot.call]
        mine = mine[mine["time_utc"].between(window["window_start_utc"], window["window_end_utc"])]
        times = pd.DatetimeIndex(slot_times(slot.start, slot.end))
        dials = dial_shifts(convention, slot.home_mhz, slot.partner_mhz, shifts_of_samples(mine, times))
        rows = [row for row in printed.rows if not row.fall_back]
        for words, exact in (
            ([row.transmit for row in rows], dials.home_transmit_hz),
            ([row.receive for row in rows], dials.home_receive_hz),
        ):
            off = np.abs(np.array([_hz(one) for one in words]) - exact)
            assert off.max() <= ten_hertz / 2 + 0.5
            worst = max(worst, float(off.max()))
    outside("samples.csv, smooth curve", 42, f"{worst:.2g} Hz at 10.4 GHz", "printed dials")


@pytest.mark.parametrize("convention", CONVENTIONS)
def test_worked_lines_add_up(convention: str) -> None:
    """`10368.100 00 + 2.49 kHz = 10368.102 49`, and the result is the table's first line."""
    found = 0
    for slot in _radio(convention).pages[0]:
        sums = re.findall(
            rf"([\d.{NO_BREAK}]+) MHz ([+\N{{MINUS SIGN}}]) ([\d.]+) kHz = ([\d.{NO_BREAK}]+) MHz", _fact(slot, "Dial")
        )
        for nominal, sign, shift, result in sums:
            moved = float(shift) * 1e3 * (1 if sign == "+" else -1)
            assert _hz(nominal) + moved == pytest.approx(_hz(result), abs=0.5)
            assert result in (slot.rows[0].transmit, slot.rows[0].receive)
            found += 1
    assert found == (3 if convention == CONVENTIONS[0] else 6)


def test_table_moves_by_what_stands_beside_it() -> None:
    """Ten minutes at the rate of a minute: the rate changes by 1 Hz a minute at most."""
    for slot in _radio().pages[0]:
        rows = [row for row in slot.rows if not row.fall_back]
        for now, soon in pairwise(rows):
            each = float(now.receive_a_minute.replace("\N{MINUS SIGN}", "-"))
            assert _hz(soon.receive) - _hz(now.receive) == pytest.approx(10 * each, abs=25)


def test_fall_back_of_the_same_night_is_in_the_table() -> None:
    slot = _radio().pages[0][1]
    assert [row.utc for row in slot.rows if row.fall_back] == ["22:45", "23:30"]
    assert "22:45–23:30 UTC tonight" in _fact(slot, "If missed")
    assert "no other time" in _fact(_radio().pages[0][0], "If missed")


def test_who_sends_when() -> None:
    words = [_fact(slot, "Sending") for slot in _radio().pages[0]]
    assert words[0] == "QZ5KAR first, at 17:16, on even minutes (0, 2, 4 ...); we on odd minutes (1, 3, 5 ...)."


def test_reports_carry_their_doubt() -> None:
    """2 dB of the stations and 1.5 dB of fading: 2.5, told as 3."""
    plan = night_plan()
    row = plan.agenda.iloc[0]
    words = _fact(_radio().pages[0][0], "Reports").replace("\N{MINUS SIGN}", "-")
    assert words == (
        f"we hear {row['report_at_home_db']:.0f} ± 3 dB, "
        f"QZ5KAR hears {row['report_at_partner_db']:.0f} ± 3 dB (in 2500 Hz)."
    )


@pytest.mark.parametrize(
    ("hz", "words"),
    [(10_368_102_494.9, "10368.102 49"), (10_368_099_999.0, "10368.100 00"), (432_100_000.6, "432.100 001")],
)
def test_frequencies_in_print(hz: float, words: str) -> None:
    assert megahertz(hz) == words.replace(" ", NO_BREAK)
    assert kilohertz(-12_344.0, 10.0) == "\N{MINUS SIGN}12.34 kHz"
    assert kilohertz(12_345.6, 1.0, plus=True) == "+12.346 kHz"


def test_lines_of_a_slot() -> None:
    start = dt.datetime(2027, 3, 13, 1, 15, tzinfo=dt.UTC)
    for minutes, lines in ((60, 7), (17, 3), (30, 4), (90, 6), (240, 7)):
        times = slot_times(start, start + dt.timedelta(minutes=minutes))
        assert (times[0], times[-1]) == (start, start + dt.timedelta(minutes=minutes))
        assert len(times) == lines


def _at(hour: int, minute: int) -> dt.datetime:
    return dt.datetime.combine(NIGHT, dt.time(hour, minute), dt.UTC)


def _search(home_hz: float, partner_hz: float, mode: Mode | None):  # type: ignore[no-untyped-def]
    plan = night_plan()
    slot = dataclasses.replace(plan.night(NIGHT).slots[0], mode=mode)
    return search_of(slot, home_hz, partner_hz, fastest_hz_per_s(plan.samples, slot.call, slot.start, slot.end))


def test_search_by_hand() -> None:
    """The fastest line moves 77.7 Hz a minute: 39 in half a period; two locked oscillators; half a step of 10 Hz; and
    the partner known by a locator of six characters to 4.57 km, 7.292e-5 / s x 4570 m = 0.333 m / s: 11.5 Hz.
    """
    search = _search(2.0, 2.0, Mode("Q65", 60, 26.667, -26.9))
    assert search.drift_hz == pytest.approx(77.7, abs=0.5)
    assert search.width_hz == pytest.approx(2 + 2 + search.drift_hz / 2 + 11.5 + 5, abs=0.1)
    assert "± 60 Hz" in search_words(search)
    assert "12 Hz as places are known to 5 km" in search_words(search)
    assert search.found
    # 26.667 Hz of 77.7 Hz in 60 s: 20.6 s.
    assert search.troubles == (Trouble.TONES_RUN_AWAY,)
    assert "every 20 s" in trouble_words(search, "QZ5KAR")
    assert [_search(2.0, 2.0, Mode(name, 60, 26.667, 5.0)).troubles for name in ("CW", "SSB", "AM", "FM")] == [()] * 4


def test_a_place_known_by_a_square_widens_the_search() -> None:
    """A point of the equator goes at 465.1 m/s (common knowledge); 111.2 km along it are 1/57.3 of a turn's radian, so
    that its speed towards the Moon changes by at most 8.117 m/s: 280.7 Hz of 10,368 MHz.
    """
    assert place_hz(111.2, 10.368e9) == pytest.approx(465.1 * np.radians(1.0) / 299_792_458.0 * 10.368e9, rel=2e-3)
    plan = night_plan()
    slot = plan.night(NIGHT).slots[0]
    near, far = (search_of(slot, 2.0, 2.0, 0.0, home_known_to_km=known) for known in (0.0, 78.6))
    assert far.width_hz - near.width_hz == pytest.approx(place_hz(78.6, 10.3681e9))


def test_words_are_as_large_as_the_page_allows() -> None:
    """One slot is printed as large as the dials; three fill a page of either paper, whatever the convention."""
    alone = with_agenda(night_plan(), SLOTS[:1])
    track = make_night_track(alone.inputs, NIGHT, alone.period.edges_of(NIGHT))
    assert radio_sheet(alone.night(NIGHT), track).text_pt == 12.0
    assert 8.3 <= _radio().text_pt < 12.0


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_three_full_slots_are_one_page(paper: str) -> None:
    """Free-running oscillators, moving dials, a re-plan to tell: all that lengthens a slot's words."""
    plan = night_plan(paper, ("Q65",), 1000.0, dialing=CONVENTIONS[2])
    slots = plan.night(NIGHT).slots
    track = make_night_track(plan.inputs, NIGHT, plan.period.edges_of(NIGHT), [(s.start, s.end) for s in slots])
    view = sheets_view(
        plan.night(NIGHT),
        track,
        (
            Change(Fate.DROPPED, "QF4LUM", before=(_at(19, 0), _at(20, 0))),
            Change(Fate.NEW, "QK3RED", after=(_at(20, 0), _at(20, 45))),
        ),
    )
    pages = PdfReader(io.BytesIO(render_document(sheets_document(view, NIGHT)))).pages
    assert len(pages) == 4


def test_wide_tones_need_no_turning_and_an_ear_follows_by_itself() -> None:
    assert _search(2.0, 2.0, Mode("Q65", 60, 106.667, -25.0)).troubles == ()
    assert _search(2.0, 2.0, Mode("CW", 60, 50.0, -15.0)).troubles == ()
    assert _search(2.0, 2.0, None).troubles == ()


def test_free_running_oscillators_want_a_beacon_first() -> None:
    search = _search(1000.0, 1000.0, Mode("Q65", 60, 26.667, -26.9))
    assert not search.found
    assert "± 2.1 kHz" in search_words(search)
    assert "beacon" in trouble_words(search, "QZ5KAR")
    words = [fact.words for fact in _radio(CONVENTIONS[0], ("Q65",), 1000.0).pages[0][0].facts]
    assert trouble_words(search, "QZ5KAR") in words


def test_too_wide_and_drifting_are_both_told() -> None:
    search = _search(1000.0, 1000.0, Mode("Q65", 60, 26.667, -26.9))
    assert search.troubles == (Trouble.TOO_WIDE, Trouble.TONES_RUN_AWAY)
    words = trouble_words(search, "QZ5KAR")
    assert "Too wide" in words
    assert "Drifts" in words
    # 2.1 kHz to either side in settings that show 1 kHz to either side.
    assert search.settings == 3


def test_spots_stand_beside_the_dials() -> None:
    """Both rules not agreed, kilohertz away as printed."""
    for slot in _radio().pages[0]:
        dial = _hz(slot.rows[0].receive)
        assert len(slot.spots) == 2
        for spot in slot.spots:
            away = float(spot.holds.split(", ")[1].split(" ")[0].replace("\N{MINUS SIGN}", "-")) * 1e3
            assert _hz(spot.receive) - dial == pytest.approx(away, abs=15)


def test_a_night_without_slots_tells_whether_the_echo_is_heard() -> None:
    plan = night_plan()
    track = make_night_track(plan.inputs, EMPTY_NIGHT, plan.period.edges_of(EMPTY_NIGHT))
    sheet = radio_sheet(plan.night(EMPTY_NIGHT), track)
    assert re.search(r"Loudest at \d\d:\d\d: (Expect about|This station cannot hear it: about) .\d+ dB", sheet.note)
    row_of = {f"{moment:%H:%M}": row for row, moment in enumerate(track.time_utc)}
    for row in sheet.echo:
        at = row_of[row.utc]
        steps = np.diff(track.home_echo_doppler_hz[max(at - 1, 0) : at + 2])
        assert float(row.a_minute.replace("\N{MINUS SIGN}", "-")) == pytest.approx(steps.mean(), abs=1.0)


@pytest.mark.parametrize(("echo_db", "words"), [(-10.0, "Bursts of 2 seconds"), (-45.0, "cannot hear it")])
def test_echo_that_is_not_heard_says_by_how_much(echo_db: float, words: str) -> None:
    found = find_echo(echo_db, 80.0, -15.0, 50.0)
    told = finding_words(echo_db, found)
    assert words in told
    if found.means == "not":
        # So much louder, ten minutes would just show it.
        assert averaging_minutes(echo_db + found.short_db, 80.0) == pytest.approx(10.0)
        assert f"fall {math.ceil(found.short_db)} dB short" in told


def test_the_echo_step_names_the_dial() -> None:
    """Listening frequency and its move as the night's track has them."""
    plan = night_plan()
    night = plan.night(NIGHT)
    track = make_night_track(plan.inputs, NIGHT, plan.period.edges_of(NIGHT))
    step = next(one for one in setup_sheet(night).steps if one.title == "Own echo")
    at = [f"{moment:%H:%M}" for moment in track.time_utc].index(step.utc)
    found = re.match(rf"Send on ([\d.{NO_BREAK}]+), listen on ([\d.{NO_BREAK}]+), (.\d+) Hz a minute", step.note)
    assert found is not None
    assert _hz(found[1]) == night.frequency_mhz * 1e6
    assert _hz(found[2]) - _hz(found[1]) == pytest.approx(track.home_echo_doppler_hz[at], abs=5.5)
    moves = track.home_echo_doppler_hz[at + 1] - track.home_echo_doppler_hz[at]
    assert float(found[3].replace("\N{MINUS SIGN}", "-")) == pytest.approx(moves, abs=0.6)


def test_answers_that_are_missing() -> None:
    assert open_answers(night_plan().night(NIGHT).slots) == (
        "provisional: QF4LUM has not answered",
        "tentative: QN1PIK is not sure yet",
    )


@cache
def _files() -> dict[str, bytes]:
    return night_files(night_plan(), NIGHT, with_pdf=True)


def test_a_page_each_up_to_three_slots() -> None:
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(_files()["sheets.pdf"])).pages]
    assert [page.split("\n")[0] != "" for page in pages] == [True] * 4
    for page, head in zip(pages, ("Set-up", "Dish", "Radio", "Ladders"), strict=True):
        assert f"{head} Saturday 13 March 2027" in page.replace("\n", " ")
        assert "has not answered" in page
        assert "plan " + night_plan().number in page


def test_four_slots_take_a_second_radio_page() -> None:
    """On letter paper, with the widest of the dial tables."""
    plan = night_plan("letter", None, None, dialing=CONVENTIONS[2])
    many = with_agenda(plan, (SLOTS * 2)[:4])
    slots = many.night(NIGHT).slots
    track = make_night_track(plan.inputs, NIGHT, plan.period.edges_of(NIGHT), [(s.start, s.end) for s in slots])
    view = sheets_view(many.night(NIGHT), track, (Change(Fate.WORKED, "QF4LUM"),))
    reader = PdfReader(io.BytesIO(render_document(sheets_document(view, NIGHT))))
    pages = [page.extract_text().replace("\n", " ") for page in reader.pages]
    heads = [
        next((head for head in ("Set-up", "Dish", "Radio", "Ladders") if f"{head} Saturday" in page), "")
        for page in pages
    ]
    assert heads[-5:] == ["Dish", "Radio", "Radio", "Ladders", "Ladders"]
    assert "Re-planned at the site: QF4LUM is worked, as was noted." in pages[-4]


def test_log_is_prefilled_and_reads_back() -> None:
    log = log_of(_files()["log.csv"])
    assert log is not None
    first = log.rows[0].cells
    assert tuple(first) == LOG_COLUMNS
    assert [row.cells["partner"] for row in log.rows] == ["QZ5KAR", "QF4LUM", "QN1PIK"]
    assert first["slot_start_utc"] == "2027-03-13T17:15:00Z"
    assert first["frequency_mhz"] == "10368.1"
    assert not any(row.is_filled_in for row in log.rows)


def test_what_was_written_in_the_log_stays() -> None:
    text = _files()["log.csv"].decode().replace("QM7TOR,,,,,\n", "QM7TOR,-14,-12,yes,17:40,loud\n", 1)
    # A spreadsheet of another country: byte mark, semicolons, a column of its own.
    foreign = (
        "\ufeff" + text.replace(",", ";").replace("remarks", "remarks;wind", 1).replace("loud", "loud;north", 1)
    ).encode()
    again = log_files(NIGHT, night_plan().night(NIGHT).slots, foreign)["log.csv"].decode()
    lines = again.splitlines()
    assert lines[0].endswith("remarks,wind")
    assert lines[1].endswith("-14,-12,yes,17:40,loud,north")
    assert len(lines) == 4
    log = log_of(again.encode())
    assert log is not None
    assert outcomes(log) == {("QZ5KAR", "QM7TOR"): True}


def test_a_log_that_cannot_be_read_is_set_aside() -> None:
    files = log_files(NIGHT, night_plan().night(NIGHT).slots, b"worked two, lost one\n")
    assert files["log-before.csv"] == b"worked two, lost one\n"
    assert len(files["log.csv"].splitlines()) == 4


def test_an_older_file_set_aside_is_not_overwritten() -> None:
    taken = {"log.csv", "log-before.csv", "log-before-2.csv"}
    files = log_files(NIGHT, night_plan().night(NIGHT).slots, b"worked two, lost one\n", taken)
    assert set(files) == {"log.csv", "log-before-3.csv"}
    assert set(log_files(NIGHT, night_plan().night(NIGHT).slots, b"\n")) == {"log.csv"}


def test_a_comma_in_a_remark_and_a_column_of_ones_own_stay() -> None:
    head, first, second, *rest = _files()["log.csv"].decode().splitlines()
    text = "\n".join([head, first[:-1] + ",loud, then gone", second, *rest]) + "\n"
    again = log_files(NIGHT, night_plan().night(NIGHT).slots, text.encode())["log.csv"].decode()
    assert again.splitlines()[1].endswith(',"loud, then gone"')
    text = "\n".join([f"{head},wind", first, f"{second},north", *rest]) + "\n"
    log = log_of(log_files(NIGHT, [], text.encode())["log.csv"])
    assert log is not None
    assert [row.cells["wind"] for row in log.rows] == ["north"]


def test_attempts_of_the_log() -> None:
    def log(*words: str) -> Log:
        rows = [f"QF4LUM,2027-03-13,2027-03-13T18:30:00Z,,,,,QM7TOR,,,{word},," for word in words]
        found = log_of("\n".join([",".join(LOG_COLUMNS), *rows]).encode())
        assert found is not None
        return found

    assert outcomes(log("No", "yes", "", "perhaps")) == {("QF4LUM", "QM7TOR"): True}
    assert outcomes(log("No")) == {("QF4LUM", "QM7TOR"): False}
    assert outcomes(log("", "perhaps")) == {}
    assert merged(log("").rows, []) == []


def test_a_second_slot_with_one_partner_is_marked_as_held_for_the_first() -> None:
    night = night_plan().night(NIGHT)
    first, second, *_ = night.slots
    twice = dataclasses.replace(second, partner=first.partner, operator=first.operator, label="Z")
    held = dataclasses.replace(night, slots=(first, twice))
    assert [_only_if(held, slot) for slot in held.slots] == ["", f"only if slot {first.number} fails"]
    assert not any(_only_if(night, slot) for slot in night.slots)
    several = tuple(dataclasses.replace(one, contacts_wanted=2) for one in night.inputs.wishes)
    wanted = dataclasses.replace(held, inputs=dataclasses.replace(night.inputs, wishes=several))
    assert not any(_only_if(wanted, slot) for slot in wanted.slots)
