"""A night played through on the telephone page, in the machine's Chromium, with the clock set by the test.

What is shown is held against the sheets' printed figures, and between them against the sky at that very second.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import os
import re
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.tracks import see_moon
from pipeline.operating.dials import dials_at
from pipeline.operating.ladders import Heard
from pipeline.operating.night_track import NORTH, NightTrack, make_night_track
from pipeline.operating.turns import turns_of
from pipeline.plan.plan import Plan
from pipeline.plan.views import Slot
from pipeline.reports import browser
from pipeline.sheets.dish_moving import step_s
from pipeline.sheets.dish_sheet import dialled
from pipeline.sheets.document import Sheets, sheets_view
from pipeline.sheets.ladder_sheet import night_ladders
from pipeline.sheets.tonight import tonight_html
from pipeline.wording import formats
from pipeline.wording.ladders import ladder_lines
from pipeline.wording.operating import megahertz
from tests.sheets.invented_agenda import EMPTY_NIGHT, NIGHT, SLOTS, night_plan, with_agenda
from tests.sheets.telephone import Telephone, telephone

pytestmark = pytest.mark.skipif(
    browser.find() is None or os.name != "posix", reason="no browser on this machine that a test can lead by pipes"
)
SECOND = dt.timedelta(seconds=1)
LEAST_TARGET_PX = 48


def utc(clock: str, day: int = 13) -> dt.datetime:
    """An instant of the night by its clock."""
    return dt.datetime.fromisoformat(f"2027-03-{day:02d}T{clock}+00:00")


@cache
def track_of(night: dt.date) -> NightTrack:
    view = night_plan().night(night)
    return make_night_track(night_plan().inputs, night, view.edges, [(slot.start, slot.end) for slot in view.slots])


@cache
def sheets_of(night: dt.date) -> Sheets:
    return sheets_view(night_plan().night(night), track_of(night), ())


def write(plan: Plan, night: dt.date, file: Path) -> Path:
    """The page of a night as a file."""
    view = plan.night(night)
    track = make_night_track(plan.inputs, night, view.edges, [(slot.start, slot.end) for slot in view.slots])
    file.write_text(tonight_html(view, track, sheets_view(view, track, ())), encoding="utf-8", newline="")
    return file


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(night_plan(), NIGHT, tmp_path_factory.mktemp("page") / "tonight.html")


@pytest.fixture(scope="module")
def glass(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Telephone]:
    program = browser.find()
    assert program
    with telephone(program, tmp_path_factory.mktemp("browser")) as one:
        yield one


@pytest.fixture
def shown(glass: Telephone, page: Path) -> Iterator[Telephone]:
    """The page on a telephone on which nothing has been typed yet."""
    glass.open(page, utc("10:00"))
    yield glass
    assert glass.run("[window.failed || [], window.refused || []]") == [[], []]
    assert not re.search(r"undefined|NaN|[{}]", glass.text("#live"))
    glass.run("localStorage.clear()")


def slot(number: int) -> Slot:
    return night_plan().night(NIGHT).slots[number - 1]


def dials_words(azimuth_deg: float, apparent_deg: float, offsets: tuple[float, float] = (0.0, 0.0)) -> str:
    """As the page says them, at the demo's step of 0.2 degree."""
    azimuth, reading = (float(dialled(value, 0.2)) for value in (azimuth_deg + offsets[0], apparent_deg + offsets[1]))
    return f"{azimuth % 360:.1f}° and {formats.signed(reading, 1)}°"


def paper_dials(clock: str) -> str:
    """The printed line of the dish table at a minute."""
    (line,) = [line for block in sheets_of(NIGHT).dish.blocks for line in block if line.utc == clock]
    return f"{line.azimuth}° and {line.inclinometer}°"


def sky_dials(at: dt.datetime, offsets: tuple[float, float] = (0.0, 0.0)) -> set[str]:
    """Dials by the sky at any second; both marks where it stands within 0.001 degree of the middle of two."""
    track = track_of(NIGHT)
    seen = see_moon(track.sky, track.home, np.array([track.sky.seconds(at)]))
    apparent = float(seen.elevation_deg[0] + refraction_deg(seen.elevation_deg, track.home.height_m)[0])
    near = (-1e-3, 0.0, 1e-3)
    return {dials_words(float(seen.azimuth_deg[0]) + a, apparent + b, offsets) for a in near for b in near}


def sky_hz(one: Slot, at: dt.datetime) -> set[str]:
    """What is listened on by the light times at any second; both marks within 0.2 Hz of the middle of two."""
    hertz = float(dials_at(night_plan().inputs, track_of(NIGHT).sky, one, (at,), 1).dialing.home_receive_hz[0])
    return {megahertz(hertz + off) for off in (-0.2, 0.0, 0.2)}


def large(shown: Telephone, words: str) -> list[tuple[str, str]]:
    """(when, large) of the lines whose words begin so."""
    return [(when, what) for when, text, what in shown.rows() if text.startswith(words)]


def test_long_before_it_names_the_first_step_and_the_night(shown: Telephone) -> None:
    assert shown.text("#action") == "Weather: go or no-go at 14:15."
    assert shown.text("#left") == "4 h 15 min left."
    assert shown.text("#utc") == "10:00:00 UTC"
    assert shown.text("#here") == "07:00 here"
    assert large(shown, "the Moon has no line at this time: paper counts") == [("now", "")]
    assert shown.run("document.getElementById('warning').hidden") is True
    shown.at(utc("10:00", day=10))
    assert shown.text("#action") == "Weather: go or no-go at Sat 13 Mar 14:15 UTC."
    assert "This page is for the night of Saturday 13 March" in shown.text("#warning")


def test_set_up_is_told_step_by_step(shown: Telephone) -> None:
    setup = sheets_of(NIGHT).setup
    assert setup
    steps = [line for line in setup.steps if line.begins_utc and not line.is_slot and line.begins_utc < slot(1).start]
    assert len(steps) > 8
    for line, after in pairwise(steps):
        assert line.begins_utc
        shown.at(line.begins_utc)
        assert shown.text("#action") == f"{line.title}."
        assert shown.text("#left").startswith(f"{line.note} Then, at {after.utc}: {after.title}.")
        assert shown.run("document.getElementById('heard').hidden") is True
    shown.at(utc("16:47"))
    assert set(dict(large(shown, "Moon at azimuth")).values()) == {dials_words(
        track_of(NIGHT).moon.azimuth_deg[row := list(track_of(NIGHT).time_utc).index(utc("16:47"))],
        track_of(NIGHT).apparent_elevation_deg[row],
    )}  # fmt: skip
    # The first setting of the dish, and both dials, stand ready before the slot: the paper's first line of it.
    assert large(shown, "move the dish to") == [("17:13:45", paper_dials("17:15"))]
    radio = sheets_of(NIGHT).radio.pages[0][0]
    assert large(shown, "listen on") == [("17:15", radio.rows[0].receive)]
    assert large(shown, "send on") == [("17:15", radio.rows[0].transmit)]


def test_the_moon_behind_the_skyline_is_told(shown: Telephone) -> None:
    clock = next(line.utc for block in sheets_of(NIGHT).dish.blocks for line in block if line.trouble == "skyline")
    shown.at(utc(clock))
    assert large(shown, "Moon at azimuth and inclinometer; not usable: skyline") == [("now", paper_dials(clock))]
    track = track_of(NIGHT)
    clear = track.time_utc[int(np.argmax(track.usable))].to_pydatetime()
    shown.at(clear - SECOND)
    assert "not usable: skyline" in shown.text("#rows")
    shown.at(clear + 59 * SECOND)
    assert "not usable" not in shown.text("#rows")


def test_through_north_the_short_way_is_taken(shown: Telephone) -> None:
    """Every few seconds while the azimuth passes from above 0 to below 360 degrees, just after a slot."""
    (north,) = [event.time_utc for event in track_of(NIGHT).events if event.kind == NORTH]
    seen = set()
    for second in range(-65, 131, 13):
        at = (north + second * SECOND).replace(microsecond=0)
        shown.at(at)
        ((_, where),) = large(shown, "Moon at azimuth")
        assert where in sky_dials(at)
        seen.add(where.split("°")[0])
    assert {"0.2", "0.0", "359.8", "359.6"} <= seen


def test_every_line_of_the_dish_table_stands_on_the_glass_at_its_minute(glass: Telephone, tmp_path: Path) -> None:
    """With an inclinometer that has an offset, and a dial of quarter degrees, outside slots."""
    plan = night_plan()
    mount = dataclasses.replace(plan.inputs.home.mount, inclinometer_offset_deg=-1.3, dial_resolution_deg=0.25)
    inputs = dataclasses.replace(plan.inputs, home=dataclasses.replace(plan.inputs.home, mount=mount))
    plan = dataclasses.replace(plan, inputs=inputs)
    glass.open(write(plan, NIGHT, tmp_path / "tonight.html"), utc("15:00"))
    assert glass.text("#offset-note") == "As on paper: 0.0° and −1.3°."
    sheets = sheets_view(plan.night(NIGHT), track_of(NIGHT), ())
    lines = [line for block in sheets.dish.blocks for line in block if not line.slot]
    assert len(lines) > 8
    for line in lines:
        glass.at(utc(line.utc, day=14 if line.utc < "12" else 13))
        assert [what for _, what in large(glass, "Moon at azimuth")] == [f"{line.azimuth}° and {line.inclinometer}°"], (
            line
        )


def test_nobody_sends_before_the_openers_first_period(shown: Telephone) -> None:
    one = slot(1)
    assert one.mode
    turns = turns_of(one.opener, one.mode)
    first = turns.first_start(turns.opener, one.start)
    assert first > one.start
    shown.at(one.start + 20 * SECOND)
    assert shown.text("#head") == "Saturday 13 March, slot 1, QZ5KAR"
    assert shown.text("#action") == f"Nobody sends before {first:%H:%M:%S}."
    assert shown.text("#left").endswith(f"{(first - one.start).total_seconds() - 20:.0f} seconds left.")


@pytest.mark.parametrize("number", [1, 2, 3])
def test_every_period_of_a_slot_is_whose_it_is(shown: Telephone, number: int) -> None:
    """By turns worked out beside the page; 41 seconds into each minute, and in its last second."""
    one = slot(number)
    assert one.mode
    assert one.mode.period_s == 60.0
    turns = turns_of(one.opener, one.mode)
    first, ours = turns.first_start(turns.opener, one.start), turns.first_start("home", one.start)
    count = int((one.end - first).total_seconds() // 60)
    for minute in range(0, count, 5):
        begin = first + minute * 60 * SECOND
        end, is_ours = begin + 60 * SECOND, (begin - ours).total_seconds() % 120 == 0
        shown.at(begin + 41 * SECOND)
        action = "We send" if is_ours else f"Listen to {one.call}"
        after = "listen" if is_ours else "send"
        assert shown.text("#action").startswith(f"{action} until {end:%H:%M:%S}, then {after}.")
        assert shown.text("#left") == f"19 seconds left. Period {minute + 1} of {count}."
        listens = begin + (90 if is_ours else 30) * SECOND
        ((when, hertz),) = large(shown, "listen on")
        assert when == "now"
        assert hertz in sky_hz(one, listens)
        assert f"set for {listens:%H:%M:%S}" in " ".join(text for _, text, _ in shown.rows())
    shown.at(one.end - SECOND)
    assert ", then the slot ends." in shown.text("#action")
    assert shown.text("#left") == f"1 second left. Period {count} of {count}."
    follows = [words for _, words, _ in shown.rows() if words.startswith(("slot ends", "then the feed"))]
    assert (
        follows
        == {
            1: [
                "slot ends; next QF4LUM at 19:00",
                "then the feed: TURNED by 90°: vertical; again 22:45: level",
            ],
            2: ["slot ends; next QN1PIK at 21:30", "then the feed: not turned: horizontal"],
            3: [
                "slot ends; if slot 2 was missed, QF4LUM once more at 22:45",
                "then the feed: TURNED by 90°: vertical; again 22:45: level",
            ],
        }[number]
    )


def test_the_dish_is_moved_in_time_and_stands_as_on_paper(shown: Telephone) -> None:
    """At each printed line of a slot the dish stands as printed wherever a step has its middle there."""
    one, every = slot(2), step_s(track_of(NIGHT).half_beam_s)
    assert every == 150.0
    printed = {line.utc for block in sheets_of(NIGHT).dish.blocks for line in block}
    compared = 0
    for number in range(25):
        aim = one.start + number * every * SECOND
        if aim < one.end:
            shown.at(aim)
            ((_, stands),) = large(shown, "azimuth and inclinometer")
            assert stands in sky_dials(aim)
            if f"{aim:%H:%M}" in printed and aim.second == 0:
                assert stands == paper_dials(f"{aim:%H:%M}")
                compared += 1
        due = aim + every / 2 * SECOND
        if due >= one.end:
            continue
        shown.at(due - 5 * SECOND)
        (told,) = large(shown, "move the dish to")
        assert told[0] == f"{due:%H:%M:%S}"
        assert told[1] in sky_dials(aim + every * SECOND)
        assert f"Move the dish at {due:%H:%M:%S}." in shown.text("#action") or due.second == 0
        shown.at(due)
        assert shown.text("#action") == f"Move the dish now: {told[1]}."
        assert "seconds left" in shown.text("#left") or "minute left" in shown.text("#left")
        shown.at(due + 14 * SECOND)
        assert shown.text("#action") == f"Move the dish now: {told[1]}."
        shown.at(due + 15 * SECOND)
        assert shown.text("#action").startswith(("We send", "Listen to"))
    assert compared > 2


def test_between_slots_the_next_one_is_prepared(shown: Telephone) -> None:
    shown.at(utc("18:30"))
    assert shown.text("#action") == "Next: QF4LUM at 19:00, slot 2."
    assert shown.text("#left") == "30 minutes left."
    assert large(shown, "Moon at azimuth and inclinometer") == [("now", paper_dials("18:30"))]
    assert large(shown, "move the dish to") == [("18:58:45", paper_dials("19:00"))]
    assert large(shown, "listen on") == [("19:00", sheets_of(NIGHT).radio.pages[0][1].rows[0].receive)]
    assert large(shown, "slot 2, QF4LUM (has not answered)") == [("19:00", "")]
    assert large(shown, f"feed: {sheets_of(NIGHT).dish.feeds[1].words}")
    # Whole minutes, rounded down, until seconds count.
    for clock, left in (("18:44:01", "15 minutes"), ("18:58:20", "1 minute"), ("18:58:21", "99 seconds")):
        shown.at(utc(clock))
        assert shown.text("#left") == f"{left} left."


def test_a_fall_back_is_told_under_the_slots_own_number_and_if_missed(shown: Telephone) -> None:
    shown.at(utc("22:34"))
    assert shown.text("#action") == "If slot 2 was missed: QF4LUM once more at 22:45."
    rows = sheets_of(NIGHT).radio.pages[0][1].rows
    assert large(shown, "listen on") == [("22:45", next(row.receive for row in rows if row.fall_back))]
    shown.at(utc("22:50:41"))
    assert shown.text("#head") == "Saturday 13 March, slot 2 once more, QF4LUM"
    assert shown.text("#left").startswith("19 seconds left.")


def test_after_the_end_the_night_is_over(shown: Telephone) -> None:
    """The fall-back behind the last slot is the last that may be used: it is over at 23:30."""
    shown.at(utc("23:30"))
    assert shown.text("#action") == "Drive off."
    shown.at(utc("23:45"))
    assert shown.text("#action") == "Pack."
    shown.at(utc("02:00", day=14))
    assert shown.text("#action") == "The night is over."
    assert shown.text("#left") == "What counts is written in the log."
    assert shown.run("document.getElementById('heard').hidden") is True


def test_each_answer_opens_the_ladder_of_the_slot_that_is_on(shown: Telephone) -> None:
    ladders = night_ladders(night_plan().night(NIGHT), track_of(NIGHT))[1]
    told = {one.heard: list(ladder_lines(one, ladders.figures)) for one in ladders.ladders}
    shown.at(utc("19:20:10"))
    assert shown.text("#ladder") == ""
    shown.tap("[data-heard=they_hear_us]")
    lines = shown.text("#ladder").splitlines()
    assert lines == told[Heard.ONLY_THEY]
    assert any(line.startswith("Ask them to keep sending") for line in lines[:2])
    shown.at(utc("19:21:10"))
    assert shown.text("#ladder").splitlines() == lines
    shown.tap("[data-heard=nothing]")
    assert shown.text("#ladder").splitlines() == told[Heard.NOTHING]
    assert shown.run("document.querySelectorAll('[aria-pressed=true]').length") == 1
    # Another slot begins with no answer.
    shown.at(utc("21:40"))
    assert shown.text("#ladder") == ""


def test_offsets_of_tonight_are_what_the_dial_shows_less_the_truth(shown: Telephone, page: Path) -> None:
    at = utc("19:30")
    shown.at(at)
    assert shown.text("#offset-note") == "As on paper: 0.0° and 0.0°."
    shown.type("#dial-offset", "3,4")
    shown.type("#inclinometer-offset", "−0.2")
    ((_, stands),) = large(shown, "azimuth and inclinometer")
    assert stands in sky_dials(at, (3.4, -0.2))
    assert "Paper stands for 0.0° and 0.0°: its dials differ." in shown.text("#offset-note")
    # They are there again when the page is, on this telephone; a busy browser keeps them a moment later.
    for _ in range(50):
        shown.open(page, at)
        if shown.run("localStorage.length"):
            break
    assert large(shown, "azimuth and inclinometer") == [("now", stands)]
    assert shown.run("document.getElementById('inclinometer-offset').value") == "−0.2"
    shown.tap("[data-offset=dial] [data-change='1']")
    shown.tap("[data-offset=dial] [data-change=sign]")
    assert shown.run("document.getElementById('dial-offset').value") == "−3.5"
    assert large(shown, "azimuth and inclinometer")[0][1] in sky_dials(at, (-3.5, -0.2))
    # A slip of the finger is told, and the paper's own offset stands until it is put right.
    shown.type("#dial-offset", "34.5.6")
    assert shown.text("#offset-note").startswith("A number of degrees is meant, such as −0.2")
    assert large(shown, "azimuth and inclinometer")[0][1] in sky_dials(at, (0.0, -0.2))
    shown.tap("#offset-paper")
    assert large(shown, "azimuth and inclinometer") == [("now", paper_dials("19:30"))]
    assert shown.text("#offset-note") == "As on paper: 0.0° and 0.0°."


@pytest.mark.parametrize(
    ("telephone_says", "words", "then"),
    [
        ("19:29:58.700", "The telephone was 1.3 s slow at the tap", "19:30:00 UTC"),
        ("19:30:02.400", "The telephone was 2.4 s fast at the tap", "19:30:00 UTC"),
    ],
)
def test_a_tap_on_the_full_minute_puts_the_clock_right(
    shown: Telephone, telephone_says: str, words: str, then: str
) -> None:
    shown.at(utc(telephone_says))
    assert shown.text("#clock-note").startswith("Not checked. This page cannot know how far")
    shown.tap("#tap")
    assert shown.text("#clock-note").startswith(words)
    assert "Whole minutes off it cannot see" in shown.text("#clock-note")
    assert shown.text("#utc") == then
    assert "Period 31 of 60." in shown.text("#left")
    shown.tap("#untap")
    assert shown.text("#clock-note").startswith("Not checked.")
    assert shown.text("#utc") == f"{telephone_says[:8]} UTC"


def test_a_browser_that_keeps_nothing_says_so(glass: Telephone, page: Path) -> None:
    glass.open(page, utc("19:30"))
    glass.run("Storage.prototype.setItem = () => { throw new Error('no room'); }")
    glass.type("#dial-offset", "1")
    assert glass.text("#offset-note").endswith("all is forgotten when the page is closed.")
    glass.run("localStorage.clear()")


def test_the_screen_is_kept_awake_or_the_page_says_that_it_is_not(shown: Telephone) -> None:
    asked = "navigator.wakeLock ? navigator.wakeLock.request('screen').then(() => true, () => false) : false"
    answer = shown.ask("Runtime.evaluate", expression=asked, awaitPromise=True, returnByValue=True)
    awake = answer["result"]["value"]
    assert shown.text("#awake-note").startswith("The screen stays awake" if awake else "This browser lets the screen")


@pytest.mark.parametrize("width", [320, 360, 390, 430])
def test_one_cold_thumb_is_enough(glass: Telephone, page: Path, width: int) -> None:
    """Nothing is pushed sideways, targets are large, letters can be read, in a slot and with the timetable open."""
    glass.open(page, utc("19:20:10"), width=width)
    glass.tap("[data-heard=traces]")
    glass.tap("#plain summary")
    glass.at(utc("21:40:10"))
    assert glass.run("document.documentElement.scrollWidth") == width
    boxes = glass.run(
        "[...document.querySelectorAll('button, input, summary')].map(one => one.getBoundingClientRect())"
        ".map(one => Math.min(one.width, one.height))"
    )
    assert len(boxes) == 4 + 2 * 4 + 1 + 2 + 1
    assert min(boxes) >= LEAST_TARGET_PX
    letters = glass.run(
        "[...document.querySelectorAll('body *')].filter(one => one.offsetParent && [...one.childNodes]"
        ".some(part => part.nodeType === 3 && part.data.trim())).map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(letters) >= 14
    sizes = "[...document.querySelectorAll('#rows b')].map(one => parseFloat(getComputedStyle(one).fontSize))"
    assert min(glass.run(sizes)) >= 25
    assert glass.run("[...document.querySelectorAll('#rows b')].every(one => one.scrollWidth <= one.clientWidth)")
    glass.run("localStorage.clear()")


def test_colours_are_dim_and_still_read(glass: Telephone, page: Path) -> None:
    """Contrast by WCAG 2.2 (4.5 to 1 at least); the ground dark, and red never below blue."""
    glass.open(page, utc("19:20:10"))
    glass.tap("#plain summary")
    pairs = glass.run(
        "[...document.querySelectorAll('body *')].filter(one => one.offsetParent && one.innerText).map(one => {"
        "let under = one; while (getComputedStyle(under).backgroundColor === 'rgba(0, 0, 0, 0)') "
        "under = under.parentElement; return getComputedStyle(one).color + getComputedStyle(under).backgroundColor; })"
    )
    assert len(pairs) > 200
    for pair in set(pairs):
        ink, ground = ([int(n) for n in one.split(",")] for one in re.findall(r"rgb\(([\d, ]+)\)", pair))
        high, low = sorted((_luminance(ink), _luminance(ground)), reverse=True)
        assert (high + 0.05) / (low + 0.05) >= 4.5, pair
        assert max(ground) < 64
        for red, _, blue in (ink, ground):
            assert red >= blue


def _luminance(colour: list[int]) -> float:
    """Relative luminance, WCAG 2.2."""
    linear = [one / 12.92 if (one := n / 255) <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for n in colour]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_without_script_the_plain_timetable_is_open(glass: Telephone, page: Path) -> None:
    glass.open(page, utc("19:20:10"), script=False)
    seen = "(selector => document.querySelector(selector).getBoundingClientRect().height > 0)"
    for selector in ("#dish", "noscript p", "#plain table", "footer"):
        assert glass.run(f"{seen}('{selector}')"), selector
    assert not glass.run(f"{seen}('#live')")
    assert glass.run("document.getElementById('utc').textContent") == ""
    glass.ask("Emulation.setScriptExecutionDisabled", value=False)


def test_a_night_without_slots_shows_the_own_echo(glass: Telephone, tmp_path: Path) -> None:
    glass.open(write(night_plan(), EMPTY_NIGHT, tmp_path / "tonight.html"), utc("10:00", day=2))
    row = sheets_of(EMPTY_NIGHT).radio.echo[3]
    track = track_of(EMPTY_NIGHT)
    (at,) = [one for one in track.time_utc[track.usable] if f"{one:%H:%M}" == row.utc]
    glass.at(at.to_pydatetime())
    assert glass.text("#action") == "No slot tonight."
    assert large(glass, "our echo is heard on") == [("now", row.receive)]
    assert large(glass, "send on") == [("now", sheets_of(EMPTY_NIGHT).radio.echo_transmit)]
    # Where the dish cannot see the Moon nothing is sent at it.
    glass.at(track.time_utc[~track.usable][0].to_pydatetime())
    assert large(glass, "Moon at azimuth and inclinometer; not usable")
    assert not large(glass, "our echo")
    assert glass.text("#left") == "The own echo shows that all works."
    glass.at(night_plan().night(EMPTY_NIGHT).edges[1] + SECOND)
    assert (glass.text("#action"), glass.text("#left")) == ("The night is over.", "What counts is written in the log.")


def test_periods_that_do_not_fill_the_hour_begin_anew_with_it(glass: Telephone, tmp_path: Path) -> None:
    """Seven minutes each: the opener sends from 17:56 to 18:00, and again from 18:00 to 18:07."""
    plan = night_plan()
    modes = tuple(mode and dataclasses.replace(mode, period_s=420.0) for mode in plan.modes)
    glass.open(write(dataclasses.replace(plan, modes=modes), NIGHT, tmp_path / "tonight.html"), utc("17:16"))
    opens = "We send" if slot(1).opener == "home" else "Listen to QZ5KAR"
    other = "Listen to QZ5KAR" if slot(1).opener == "home" else "We send"
    assert glass.text("#action") == "Nobody sends before 17:28:00."
    for clock, who, until in (
        ("17:28:30", opens, "17:35:00"),
        ("17:37:00", other, "17:42:00"),
        ("17:57:00", opens, "18:00:00"),
        ("18:01:30", opens, "18:07:00"),
        ("18:12:00", other, "18:14:00"),
        ("18:14:30", opens, "18:15:00"),
    ):
        glass.at(utc(clock))
        assert glass.text("#action").startswith(f"{who} until {until}"), clock
        assert "Period" not in glass.text("#left")


def test_the_openers_first_period_may_be_that_of_the_next_hour(glass: Telephone, tmp_path: Path) -> None:
    plan = night_plan()
    modes = tuple(mode and dataclasses.replace(mode, period_s=2400.0) for mode in plan.modes)
    glass.open(write(dataclasses.replace(plan, modes=modes), NIGHT, tmp_path / "tonight.html"), utc("17:16"))
    assert glass.text("#action") == "Nobody sends before 18:00:00."


def test_without_a_mode_in_common_nobodys_turn_is_told(glass: Telephone, tmp_path: Path) -> None:
    plan = night_plan()
    plan = dataclasses.replace(plan, modes=(None,) * len(plan.modes))
    glass.open(write(plan, NIGHT, tmp_path / "tonight.html"), utc("19:30"))
    assert glass.text("#action") == "No mode in common with QF4LUM: agree on one by telephone."
    assert glass.text("#left") == "The slot ends at 20:00, 30 minutes left."
    assert large(glass, "azimuth and inclinometer") == [("now", paper_dials("19:30"))]
    ((_, hertz),) = large(glass, "listen on")
    assert hertz == next(row.receive for row in sheets_of(NIGHT).radio.pages[0][1].rows if row.utc == "19:30")


def test_a_slot_goes_before_a_fall_back_of_the_same_time(glass: Telephone, tmp_path: Path) -> None:
    plan = with_agenda(night_plan(), (*SLOTS[:2], ("QN1PIK", "2027-03-13T22:15Z", "confirmed")))
    glass.open(write(plan, NIGHT, tmp_path / "tonight.html"), utc("22:50"))
    assert glass.text("#head") == "Saturday 13 March, slot 3, QN1PIK"
    glass.at(utc("23:20"))
    assert glass.text("#head") == "Saturday 13 March, slot 2 once more, QF4LUM"


def test_a_coarse_dial_is_not_moved_to_where_it_stands(glass: Telephone, tmp_path: Path) -> None:
    plan = night_plan()
    mount = dataclasses.replace(plan.inputs.home.mount, dial_resolution_deg=5.0)
    inputs = dataclasses.replace(plan.inputs, home=dataclasses.replace(plan.inputs.home, mount=mount))
    page = write(dataclasses.replace(plan, inputs=inputs), NIGHT, tmp_path / "tonight.html")
    glass.open(page, utc("19:00"))
    for minute in range(0, 50, 3):
        glass.at(utc(f"19:{minute:02d}:40"))
        ((_, stands),) = large(glass, "azimuth and inclinometer")
        assert stands not in [what for _, what in large(glass, "move the dish to")]


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ("Promise.resolve({released: true})", "The screen stays awake while this page is seen."),
        ("Promise.reject(new Error('no'))", "This browser lets the screen go dark: set its time longer."),
    ],
)
def test_the_screen_is_asked_for_again_when_the_page_is_seen_again(
    glass: Telephone, page: Path, answer: str, words: str
) -> None:
    lock = f"{{request: () => {{ window.asked = (window.asked || 0) + 1; return {answer}; }}}}"
    source = f"Object.defineProperty(navigator, 'wakeLock', {{value: {lock}}});"
    added = glass.ask("Page.addScriptToEvaluateOnNewDocument", source=source)["identifier"]
    glass.open(page, utc("19:00"))
    assert glass.run("asked") == 1
    assert glass.text("#awake-note") == words
    glass.at(utc("19:10"))
    assert glass.run("asked") == 2
    glass.ask("Page.removeScriptToEvaluateOnNewDocument", identifier=added)


def test_short_periods_and_both_dials_moving(glass: Telephone, tmp_path: Path) -> None:
    """Periods of 15 s, and a convention in which what we send moves as well."""
    plan = night_plan(modes=("FT8",), dialing="home-follows-for-both")
    glass.open(write(plan, NIGHT, tmp_path / "tonight.html"), utc("19:20:10"))
    one = plan.night(NIGHT).slots[1]
    assert one.mode
    assert one.mode.period_s == 15.0
    ours = turns_of(one.opener, one.mode).first_start("home", one.start)
    for second in range(0, 90, 7):
        at = utc("19:24") + second * SECOND
        glass.at(at)
        is_ours = int((at - ours).total_seconds() // 15) % 2 == 0
        left = 15 - int((at - ours).total_seconds()) % 15
        # A move of the dish goes before whose turn it is, and tells it as well.
        told = glass.text("#action") + glass.text("#left")
        assert ("We send" in told) == is_ours, at
        assert f"{left} second" in told
    moving = dials_at(plan.inputs, track_of(NIGHT).sky, one, (one.start,), 1).dialing.home_transmit_hz[0]
    glass.at(utc("18:50"))
    assert large(glass, "send on; set for 19:00") == [("19:00", megahertz(float(moving)))]
