"""The telephone page without a browser: its tables are the sheets' own, and nothing in it can break out or in."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import re
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest
from markupsafe import Markup

from pipeline.ephemeris.tracks import see_moon, separation_deg
from pipeline.operating.night_track import make_night_track
from pipeline.operating.turns import Turns
from pipeline.plan.plan import Plan
from pipeline.sheets.dish_moving import step_s
from pipeline.sheets.dish_sheet import dial_digits, dialled
from pipeline.sheets.document import Sheets, sheets_view
from pipeline.sheets.ladder_sheet import night_ladders
from pipeline.sheets.tonight import aims, script_json, source_hash, tonight_data, tonight_html
from pipeline.wording import formats
from pipeline.wording.ladders import STEP_WORDS, figure_words
from pipeline.wording.operating import megahertz
from pipeline.wording.tonight import HEARD, PAGE_WORDS
from tests.sheets.invented_agenda import (
    EMPTY_NIGHT,
    NIGHT,
    SITE_NOTES,
    SLOTS,
    night_files,
    night_plan,
    standing_at_the_beach,
)

MINUTE_MS = 60_000


class Page(HTMLParser):
    """What a browser's parser makes of the page: elements, what is in scripts and styles, and the visible words."""

    def __init__(self, html: str) -> None:
        """Reads the whole page."""
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.inside: list[tuple[dict[str, str | None], str]] = []
        self.words = ""
        self._open = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element begins."""
        self.elements.append((tag, dict(attrs)))
        self._open = tag

    def handle_endtag(self, tag: str) -> None:
        """An element ends."""
        self._open = ""

    def handle_data(self, data: str) -> None:
        """Text between two tags."""
        if self._open in ("script", "style"):
            self.inside.append((self.elements[-1][1] | {"tag": self._open}, data))
        else:
            self.words += f" {data}"

    @property
    def script(self) -> str:
        """The one program of the page."""
        (text,) = [text for attrs, text in self.inside if attrs["tag"] == "script" and "type" not in attrs]
        return text

    @property
    def data(self) -> dict[str, Any]:
        """What the program reads."""
        (text,) = [text for attrs, text in self.inside if attrs.get("id") == "data"]
        found: dict[str, Any] = json.loads(text)
        return found


def _view(plan: Plan, night: dt.date = NIGHT) -> tuple[Sheets, dict[str, Any]]:
    """The sheets of a night and what stands embedded in its page."""
    view = plan.night(night)
    track = make_night_track(plan.inputs, night, view.edges, [(slot.start, slot.end) for slot in view.slots])
    sheets = sheets_view(view, track, ())
    return sheets, tonight_data(view, track, sheets)


@cache
def _page(night: dt.date = NIGHT) -> Page:
    return Page(night_files(night_plan(), night, with_pdf=False)["tonight.html"].decode())


def _with_mount(**changes: float) -> Plan:
    plan = night_plan()
    mount = dataclasses.replace(plan.inputs.home.mount, **changes)
    inputs = dataclasses.replace(plan.inputs, home=dataclasses.replace(plan.inputs.home, mount=mount))
    return dataclasses.replace(plan, inputs=inputs)


def _ms(moment: dt.datetime) -> int:
    return round(moment.timestamp() * 1000)


@pytest.mark.parametrize("changes", [{}, {"inclinometer_offset_deg": -1.3, "dial_resolution_deg": 0.25}])
def test_every_line_of_the_dish_table_is_in_the_embedded_table(changes: dict[str, float]) -> None:
    """The same marks of the dials, and the same words where a line cannot be used."""
    plan = _with_mount(**changes)
    sheets, data = _view(plan)
    mount = plan.inputs.home.mount
    (run,) = data["moon"]
    lines = [line for block in sheets.dish.blocks for line in block]
    assert len(lines) > 60
    start = dt.datetime.fromtimestamp(run["start"] / 1000, dt.UTC)
    for line in lines:
        hour, minute = map(int, line.utc.split(":"))
        at = start.replace(hour=hour, minute=minute)
        at += dt.timedelta(days=at < start)
        row = (_ms(at) - run["start"]) // MINUTE_MS
        azimuth = dialled(run["azimuth_deg"][row] + data["dial_offset_deg"], data["resolution_deg"]) % 360
        reading = dialled(run["elevation_deg"][row] + data["inclinometer_offset_deg"], data["resolution_deg"])
        assert f"{azimuth:.{data['digits']}f}" == line.azimuth
        assert formats.signed(float(reading), data["digits"]) == line.inclinometer
        assert run["trouble"][row] == line.trouble
    assert data["digits"] == dial_digits(mount.dial_resolution_deg)
    assert data["inclinometer_offset_deg"] == mount.inclinometer_offset_deg.at("horizontal")


@pytest.mark.parametrize("dialing", ["each-follows-what-it-hears", "home-follows-for-both", "meet-at-the-moon"])
def test_every_line_of_the_dial_tables_is_in_the_embedded_tables(dialing: str) -> None:
    """Of slots and of the fall-back; numbers and calls are those of the log."""
    plan = night_plan(dialing=dialing)
    sheets, data = _view(plan)
    found = {(slot["number"], slot["again"]): slot for slot in data["slots"]}
    assert [one["number"] for one in data["slots"]] == ["1", "2", "3", "2"]
    told = 0
    for slot, radio in zip(plan.night(NIGHT).slots, sheets.radio.pages[0], strict=True):
        assert radio.number == str(slot.number)
        for row in radio.rows:
            its = found[radio.number, row.fall_back]
            assert its["call"] == radio.call
            hour, minute = map(int, row.utc.split(":"))
            at = slot.start.replace(hour=hour, minute=minute)
            place = (_ms(at) - its["start"]) // MINUTE_MS
            assert megahertz(its["listen_hz"][place]) == row.receive
            assert megahertz(its["send_hz"][place]) == row.transmit
            assert formats.signed(its["listen_a_minute_hz"][place], 0, plus=True) == row.receive_a_minute
            told += 1
    assert told == 3 * 7 + 2


def test_spans_and_turns_are_those_of_the_slots() -> None:
    _, data = _view(night_plan())
    for slot in night_plan().night(NIGHT).slots:
        (its,) = [one for one in data["slots"] if one["number"] == str(slot.number) and not one["again"]]
        assert (its["start"], its["end"]) == (_ms(slot.start), _ms(slot.end))
        assert slot.mode is not None
        assert its["turns"] == {"opener": slot.opener, "period_ms": slot.mode.period_s * 1000}
        assert Turns(slot.opener, slot.mode.period_s).start_s(slot.opener) == 0.0  # type: ignore[arg-type]
    (again,) = [one for one in data["slots"] if one["again"]]
    again_utc = [dt.datetime(2027, 3, 13, 22, 45, tzinfo=dt.UTC), dt.datetime(2027, 3, 13, 23, 30, tzinfo=dt.UTC)]
    assert [again["start"], again["end"]] == list(map(_ms, again_utc))


def test_no_step_of_the_dish_lets_the_moon_out_of_a_quarter_of_the_beam() -> None:
    """Steps cover the slot without a gap; the Moon is looked for at both ends of each, by the sky itself."""
    plan = night_plan()
    view = plan.night(NIGHT)
    track = make_night_track(plan.inputs, NIGHT, view.edges, [(slot.start, slot.end) for slot in view.slots])
    every = step_s(track.half_beam_s)
    for slot in view.slots:
        found = aims(slot.start, slot.end, every)
        half = dt.timedelta(seconds=every / 2)
        assert found[0] == slot.start
        assert found[-1] - half < slot.end <= found[-1] + half
        assert {b - a for a, b in pairwise(found)} == {2 * half}
        for aim in found:
            at = [track.sky.seconds(moment) for moment in (aim - half, aim, aim + half)]
            first, middle, last = (see_moon(track.sky, track.home, [time]) for time in at)
            assert max(separation_deg(one, middle)[0] for one in (first, last)) <= track.beamwidth_deg / 4


def test_a_step_that_falls_on_the_end_is_not_lost() -> None:
    start = dt.datetime(2027, 3, 13, 19, tzinfo=dt.UTC)
    assert len(aims(start, start + dt.timedelta(hours=1), 240.0)) == 16
    assert len(aims(start, start + dt.timedelta(minutes=10), 240.0)) == 3


def test_set_up_steps_are_the_sheets_with_their_instants() -> None:
    sheets, data = _view(night_plan())
    assert sheets.setup
    printed = [(line.utc, line.title) for line in sheets.setup.steps if line.utc and not line.is_slot]
    found = [(dt.datetime.fromtimestamp(one["at"] / 1000, dt.UTC), one["title"]) for one in data["steps"]]
    assert [(formats.clock_of_night(at, dt.UTC, NIGHT), title) for at, title in found] == printed


def test_ladders_are_of_the_slots_own_figures() -> None:
    sheets, data = _view(night_plan())
    night = night_plan().night(NIGHT)
    track = make_night_track(night.inputs, NIGHT, night.edges, [(slot.start, slot.end) for slot in night.slots])
    made = {str(one.slot.number): one for one in night_ladders(night, track)}
    for radio in sheets.radio.pages[0]:
        (its,) = [one for one in data["slots"] if one["number"] == radio.number and not one["again"]]
        assert list(its["ladders"]) == list(HEARD)
        ladders = made[str(its["number"])]
        for key, heard in HEARD.items():
            (ladder,) = (one for one in ladders.ladders if one.heard is heard)
            steps = [line for line in its["ladders"][key] if not line.startswith("How likely")]
            assert len(steps) == len(ladder.rungs)
            for line, rung in zip(steps, ladder.rungs, strict=True):
                assert line.startswith(STEP_WORDS[rung.do])
                assert figure_words(rung.do, ladders.figures) in line


def test_a_night_without_slots_has_the_own_echo() -> None:
    sheets, data = _view(night_plan(), EMPTY_NIGHT)
    assert data["slots"] == data["steps"] == []
    (run,) = data["moon"]
    start = dt.datetime.fromtimestamp(run["start"] / 1000, dt.UTC)
    assert len(sheets.radio.echo) > 5
    for row in sheets.radio.echo:
        hour, minute = map(int, row.utc.split(":"))
        at = start.replace(hour=hour, minute=minute)
        at += dt.timedelta(days=at < start)
        assert megahertz(run["echo_hz"][(_ms(at) - run["start"]) // MINUTE_MS]) == row.receive
    assert megahertz(data["echo_send_hz"]) == sheets.radio.echo_transmit


def test_without_script_all_of_the_paper_is_there_to_read() -> None:
    sheets, _ = _view(night_plan())
    words = " ".join(_page().words.split())
    for block in sheets.dish.blocks:
        for line in block:
            assert f" {line.utc} {line.azimuth} {line.inclinometer} " in words
    for radio in sheets.radio.pages[0]:
        assert f"Slot {radio.number}, {radio.call}" in words
        for row in radio.rows:
            assert " ".join(f"{row.utc} {row.receive}".split()) in words
        for fact in radio.facts:
            assert " ".join(fact.words.split()) in words
    assert sheets.setup
    for step in sheets.setup.steps:
        assert " ".join(f"{step.title} {step.note}".split()) in words
    assert "Paper counts" in words
    # What only a running script can fill is not shown before it runs.
    hidden = [attrs for _, attrs in _page().elements if attrs.get("id") == "live"]
    assert "hidden" in hidden[0]
    assert ("details", {"id": "plain", "open": None}) in _page().elements


def test_the_crews_own_list_stands_before_the_steps() -> None:
    text = night_files(night_plan(), NIGHT, with_pdf=False)["tonight.html"].decode()
    (own,) = night_plan().inputs.home.checklist
    assert 0 < text.index(f"<li>{own}</li>") < text.index("<b>Weather: go or no-go</b>")


def test_what_the_file_notes_of_the_site_stands_before_the_list() -> None:
    plan = night_plan()
    home = standing_at_the_beach(plan.inputs.home)
    inputs = dataclasses.replace(plan.inputs, home=home)
    text = night_files(dataclasses.replace(plan, inputs=inputs), NIGHT, with_pdf=False)["tonight.html"].decode()
    assert 0 < text.index(f"<b>Beach.</b> {Markup.escape(SITE_NOTES)}") < text.index(f"<li>{home.checklist[0]}</li>")


def test_a_percent_sign_stays_with_its_number() -> None:
    assert json.loads(script_json({"note": "good to 17 %, 5 % of them"})) == {
        "note": "good to 17\N{NO-BREAK SPACE}%, 5\N{NO-BREAK SPACE}% of them"
    }


HOSTILE = "</script><img src=x onerror=alert(1)><!-- <script> ]]> & \u2028 \" ' \\"


def test_a_hostile_name_stays_a_name() -> None:
    """Neither the script's element nor the page's can be ended by a station's name."""
    plan = night_plan()
    partners = tuple(dataclasses.replace(one, name=HOSTILE, operator=HOSTILE) for one in plan.inputs.partners)
    home = dataclasses.replace(plan.inputs.home, checklist=(HOSTILE,), landmarks=tuple(
        dataclasses.replace(one, name=HOSTILE) for one in plan.inputs.home.landmarks))  # fmt: skip
    inputs = dataclasses.replace(plan.inputs, partners=partners, home=home)
    page = Page(night_files(dataclasses.replace(plan, inputs=inputs), NIGHT, with_pdf=False)["tonight.html"].decode())
    assert [tag for tag, _ in page.elements].count("script") == 2
    assert not [tag for tag, _ in page.elements if tag in ("img", "iframe", "link", "object", "base", "form")]
    assert any(HOSTILE[:20] in step["note"] for step in page.data["steps"])
    assert json.loads(script_json(HOSTILE)) == HOSTILE
    assert not set("<>&\u2028") & set(script_json(HOSTILE))


def test_the_policy_lets_the_own_script_run_and_nothing_else() -> None:
    """Hashes after the standard: SHA-256 of the element's text, base64; the browser's test shows that they hold."""
    page = _page()
    (policy,) = [attrs["content"] for tag, attrs in page.elements if tag == "meta" and "http-equiv" in attrs]
    (style,) = [text for attrs, text in page.inside if attrs["tag"] == "style"]
    assert policy == (
        f"default-src 'none'; style-src {source_hash(style)}; script-src {source_hash(page.script)}; "
        "font-src data:; base-uri 'none'; form-action 'none'"
    )
    # The worked example of the recommendation (W3C, Content Security Policy level 2, 7.15.2; from memory).
    assert source_hash("alert('Hello, world.');") == "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='"
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacent|document\.write|eval|Function\(|fetch|XMLHttp", page.script
    )
    assert not any(name.startswith("on") or name == "style" for _, attrs in page.elements for name in attrs)
    assert "http:" not in page.script + style
    assert "https:" not in page.script + style


def test_every_word_is_used() -> None:
    script = _page().script
    for key in PAGE_WORDS:
        stem = key.removesuffix("_last")
        assert f'"{key}"' in script or f"words.{key}" in script or f'"{stem}"' in script, key


def test_the_same_night_gives_the_same_bytes() -> None:
    plan = night_plan()
    view = plan.night(NIGHT)
    track = make_night_track(plan.inputs, NIGHT, view.edges, [(slot.start, slot.end) for slot in view.slots], ["3cm"])
    made = tonight_html(view, track, sheets_view(view, track, ())).encode()
    assert made == night_files(plan, NIGHT, with_pdf=False)["tonight.html"]
    assert len(made) < 250_000
    assert len(SLOTS) == 3
