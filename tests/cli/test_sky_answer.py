"""The one question about a skyline: asked over the slots' own azimuths, answered into the partner's own file."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest

from pipeline.inputs.lengths import AssumedSkyline
from pipeline.inputs.model import HorizonPoint, mask_arrays
from pipeline.inputs.station import read_station
from pipeline.inputs.yaml_tree import load_tree
from pipeline.letters import station_words
from pipeline.letters.sky_answer import skyline_points, with_sky
from pipeline.operating.one_question import one_question
from pipeline.operating.sky_question import _over, sky_question
from pipeline.pairs.equipment import beam_of
from pipeline.plan.views import PartnerView
from pipeline.record.inputs import read_inputs
from pipeline.record.model import AskedSky
from pipeline.wording.speech import speech_for
from tests.agenda.slot_grids import march, march_inputs, with_partner
from tests.cli.test_choices import OUT, moon, sent, table
from tests.conftest import Type
from tests.plan.months import SEASON_FILE, only_partners, survey_of

__all__ = ["moon"]
FILE = Path("stations/qt8nui.yaml")
NINE_IN_TEN_DEG = 10.0
# All but the sky is told, so that the letter asks for that.
REST = (
    "available: always\nbands:\n  3cm: {antenna: {dish_diameter_m: 1.8}, power_w: 30, noise_figure_db: 0.9, "
    "loss_before_preamplifier_db: 0.1}\n"
)


def asked(call: str = "QT8NUI") -> AskedSky:
    about = json.loads((OUT / "letters" / call / "letter.json").read_text("utf-8"))
    return AskedSky(**next(slot["asked_sky"] for slot in about["slots"] if "asked_sky" in slot))


def high_view(call: str) -> PartnerView:
    """A view where unknown skylines are taken to be high, so that they are worth a question."""
    view = march().for_partner(call)
    return dataclasses.replace(
        view, policy=dataclasses.replace(view.policy, assumed_skyline=AssumedSkyline(15.0, 40.0))
    )


def asking() -> list[str]:
    return [one.call for one in march().inputs.partners if sky_question(high_view(one.call))]


def test_what_nine_skylines_in_ten_do_not_reach_is_not_asked_about() -> None:
    for call in asking():
        view, question = march().for_partner(call), sky_question(high_view(call))
        assert question is not None
        for nine_in_ten_deg, is_asked in ((question.above_deg, False), (question.above_deg + 1.0, True)):
            skyline = AssumedSkyline(3.0, nine_in_ten_deg)
            other = dataclasses.replace(view, policy=dataclasses.replace(view.policy, assumed_skyline=skyline))
            assert (sky_question(other) is not None) == is_asked
            # What is asked instead is no sky.
            assert is_asked or not isinstance(one_question(other), AskedSky)


@pytest.mark.parametrize("call", ["QZ5KAR", "QG8FEN", "QT8NUI"])
def test_a_free_sky_costs_no_window_that_the_guess_left(call: str, tmp_path: Path) -> None:
    """By the demo's partners of unknown skylines: what the Moon does above the guess, it does after the answer."""
    question = sky_question(high_view(call))
    assert question is not None
    assert question.above_deg > NINE_IN_TEN_DEG
    station = march().inputs.partner(call)
    (tmp_path / station.file).write_bytes((SEASON_FILE.parent / station.file).read_bytes())
    new = with_sky(station, tmp_path, question, "free", NINE_IN_TEN_DEG)
    assert "below that, as elsewhere, a guess of 10 stays" in new.line
    assert "free above " in new.text
    assert "Below that and elsewhere a cautious guess." in new.text
    (tmp_path / station.file).write_text(new.text, "utf-8")
    told = read_station(load_tree(new.text.encode(), station.file, tmp_path)).station
    assert told is not None
    assert {one.elevation_deg for one in told.horizon} == {NINE_IN_TEN_DEG}
    alone = only_partners(march_inputs(), call)
    windows = survey_of(with_partner(alone, call, horizon=told.horizon)).windows
    guessed = survey_of(with_partner(alone, call, minimum_elevation_deg=NINE_IN_TEN_DEG)).windows
    assert list(windows["window_start_utc"]) == list(guessed["window_start_utc"])
    assert list(windows["window_end_utc"]) == list(guessed["window_end_utc"])
    before = march().windows[march().windows["partner"] == call]
    high = before[before["maximum_lower_elevation_deg"] > NINE_IN_TEN_DEG + 1.0]
    assert len(windows) >= len(high) > 0


def test_an_answer_over_an_arc_is_not_called_surveyed() -> None:
    station = march().inputs.partner("QT8NUI")
    speech = speech_for(station)
    for arc in ((92.0, 141.0), (350.0, 3.0), (180.0, 180.0)):
        points = tuple(HorizonPoint(*one) for one in skyline_points(AskedSky(*arc, 0.0), 7.0, NINE_IN_TEN_DEG))
        told = dataclasses.replace(station, horizon=points, assumed=())
        assert station_words._horizon(told, speech, 10.0) == "your horizon where you told of it and our guess elsewhere"
        low = dataclasses.replace(told, minimum_elevation_deg=5.0)
        assert station_words._horizon(low, speech, 10.0).endswith("our guess elsewhere, not below 5°")
        other = dataclasses.replace(points[0], elevation_deg=11.0)
        surveyed = dataclasses.replace(told, horizon=(other, *points[1:]))
        assert station_words._horizon(surveyed, speech, 10.0) == "your surveyed horizon"


def test_only_an_unknown_skyline_that_matters_is_asked_about() -> None:
    calls = asking()
    assert calls
    for station in march().inputs.partners:
        slots = march().for_partner(station.call).slots
        if station.horizon or not slots:
            assert station.call not in calls


def test_the_question_spans_the_moons_path_in_the_samples() -> None:
    """Against the plan's own samples of every slot and other time, which know nothing of the question."""
    for call in asking():
        view = high_view(call)
        question = sky_question(view)
        assert question is not None
        width = (question.azimuth_to_deg - question.azimuth_from_deg) % 360.0
        half = beam_of(view.station, view.band, view.home_mhz).beamwidth_deg / 2.0
        lowest, turns = np.inf, []
        for slot in view.slots:
            for start, end in ((slot.start, slot.end), *((one.start, one.end) for one in slot.alternatives)):
                rows = view.samples[view.samples["time_utc"].between(start, end)]
                turns += list((rows["partner_azimuth_deg"] - question.azimuth_from_deg) % 360.0)
                lowest = min(lowest, float((rows["partner_elevation_deg"] + rows["partner_refraction_deg"]).min()))
        assert max(turns) <= width
        # No wider than the path by more than a sample's step at either end and the rounding.
        assert width - (max(turns) - min(turns)) < 10.0
        assert 0.0 <= lowest - half - question.above_deg < 4.0


@pytest.mark.parametrize(
    ("azimuths", "arc"),
    [
        ([74.2, 80.0, 84.3], (74.0, 85.0)),
        ([350.5, 2.5, 359.0], (350.0, 3.0)),
        ([359.5], (359.0, 0.0)),
        ([180.0], (180.0, 180.0)),
    ],
)
def test_the_arc_is_the_narrowest_and_may_pass_north(azimuths: list[float], arc: tuple[float, float]) -> None:
    assert _over(np.array(azimuths)) == arc


@pytest.mark.parametrize(("first", "last"), [(74.0, 85.0), (350.0, 3.0), (180.0, 180.0), (1.0, 359.0)])
def test_the_points_hold_what_was_told_over_the_arc_and_a_guess_elsewhere(first: float, last: float) -> None:
    points = sorted(skyline_points(AskedSky(first, last, 4.0), 4.0, NINE_IN_TEN_DEG))
    azimuth, height = np.array(points).T
    turn = np.linspace(0.0, (last - first) % 360.0, 50)
    inside = np.interp((first + turn) % 360.0, azimuth, height, period=360.0)
    assert inside == pytest.approx(4.0)
    if (last - first) % 360.0 < 350.0:
        assert np.interp((last + 20.0) % 360.0, azimuth, height, period=360.0) == NINE_IN_TEN_DEG


def fear_high_skylines() -> None:
    season = Path("stations/season.yaml")
    text = season.read_text("utf-8")
    line = "\n  slot_minutes: 60\n"
    assert line in text
    season.write_text(text.replace(line, f"\n  assumed_skyline: {{median_deg: 3, nine_in_ten_deg: 32}}{line}"), "utf-8")


def test_free_keeps_the_slot_and_takes_the_doubt_away(moon: Type) -> None:
    fear_high_skylines()
    FILE.write_text(FILE.read_text("utf-8") + REST, "utf-8")
    assert moon("plan", "--no-pdf")[0] == 0
    assert moon("letters", "--no-pdf")[0] == 0
    question = asked()
    chat = (OUT / "letters" / "QT8NUI" / "message.txt").read_text("utf-8")
    span = (
        f"azimuth {question.azimuth_from_deg:.0f} to {question.azimuth_to_deg:.0f} above {question.above_deg:.0f} deg"
    )
    assert f"Is your sky free at {span}?" in chat
    sent("QT8NUI")
    before = FILE.read_text("utf-8")
    code, out, err = moon("answer", "QT8NUI", "sky=free")
    assert (code, err) == (0, "")
    assert f": free above {question.above_deg:g} degrees\n" in out
    # The operator's words stay, to the byte.
    assert FILE.read_text("utf-8").startswith(before)
    station = read_inputs(Path("stations/season.yaml")).partner("QT8NUI")
    azimuth, height = mask_arrays(station)
    assert np.interp(question.azimuth_from_deg, azimuth, height, period=360.0) == question.above_deg
    assert "horizon" not in station.assumed
    slots = [row for row in table("agenda") if row["partner"] == "QT8NUI"]
    assert moon("plan", "--no-pdf")[0] == 0
    again = [row for row in table("agenda") if row["partner"] == "QT8NUI"]
    assert [row["slot_start_utc"] for row in again] == [row["slot_start_utc"] for row in slots]
    for row, old in zip(again, slots, strict=True):
        # Nothing but presence is left between the two chances.
        assert float(row["chance_met"]) == pytest.approx(0.9 * float(row["chance"]), rel=1e-9)
        assert float(row["chance_met"]) > float(old["chance_met"])
    assert moon("letters", "--no-pdf")[0] == 0
    assert "Is your sky free" not in (OUT / "letters" / "QT8NUI" / "message.txt").read_text("utf-8")
    code, _, err = moon("answer", "QT8NUI", "sky=free")
    assert (code, err) == (2, "sky=free: qt8nui.yaml states a horizon already; change it there.\n")


def test_a_height_is_written_and_a_slot_behind_it_goes(moon: Type) -> None:
    fear_high_skylines()
    FILE.write_text(FILE.read_text("utf-8") + REST, "utf-8")
    assert moon("plan", "--no-pdf")[0] == 0
    assert moon("letters", "--no-pdf")[0] == 0
    question = asked()
    # Sent: a later plan and other letters do not change what was asked.
    sent("QT8NUI")
    (OUT / "letters" / "QT8NUI" / "letter.json").unlink()
    assert moon("answer", "qt8nui", "Sky=60")[0] == 0
    station = read_inputs(Path("stations/season.yaml")).partner("QT8NUI")
    azimuth, height = mask_arrays(station)
    assert np.interp(question.azimuth_to_deg, azimuth, height, period=360.0) == 60.0
    # What was told of one arc walls in no other.
    assert np.interp(question.azimuth_to_deg + 180.0, azimuth, height, period=360.0) == 32.0
    old = {row["slot_start_utc"] for row in table("agenda") if row["partner"] == "QT8NUI"}
    assert moon("plan", "--no-pdf")[0] == 0
    assert not old & {row["slot_start_utc"] for row in table("agenda") if row["partner"] == "QT8NUI"}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("sky=high",), "sky=high: free is meant, or how high the skyline stands in degrees, such as sky=7.\n"),
        (("sky=95",), "sky=95: free is meant, or how high the skyline stands in degrees, such as sky=7.\n"),
        (("sky=-1",), "sky=-1: free is meant, or how high the skyline stands in degrees, such as sky=7.\n"),
        (("A=yes", "sky=free"), "sky=free: this goes into another file; type it in a command of its own.\n"),
    ],
)
def test_a_wrong_word_changes_nothing(words: tuple[str, ...], sentence: str, moon: Type) -> None:
    letters = OUT / "letters" / "QT8NUI"
    letters.mkdir(parents=True)
    slot = {"uid": "u", "sequence": 0, "label": "A", "operator": "QM7TOR", "state": "proposed"}
    slot |= {"start_utc": "2027-03-06T19:00:00Z", "end_utc": "2027-03-06T20:00:00Z"}
    slot |= {"asked_sky": {"azimuth_from_deg": 74.0, "azimuth_to_deg": 85.0, "above_deg": 4.0}}
    (letters / "letter.json").write_text(json.dumps({"slots": [slot]}), "utf-8")
    before = FILE.read_bytes()
    assert moon("answer", "QT8NUI", *words) == (2, "", sentence)
    assert FILE.read_bytes() == before


@pytest.mark.parametrize(
    ("text", "end"),
    [
        ("call: {call}\nposition: {{locator: RE44qt}}", ""),
        ("# ours\r\ncall: {call}\r\nposition: {{locator: RE44qt}} # here\r\n", "\r\n"),
        ("\ufeffcall: {call}\nhorizon:\nposition: {{locator: RE44qt}}\n# end\n", "# end\n"),
        ("call: {call}\nhorizon:   # not surveyed\nposition: {{locator: RE44qt}}\n", "RE44qt}\n"),
    ],
)
def test_however_the_file_is_laid_out_its_words_stay(text: str, end: str, moon: Type) -> None:
    raw = text.format(call="QT8NUI").encode()
    FILE.write_bytes(raw)
    station = read_inputs(Path("stations/season.yaml")).partner("QT8NUI")
    new = with_sky(station, Path("stations"), AskedSky(74.0, 85.0, 4.0), "free", NINE_IN_TEN_DEG)
    assert FILE.read_bytes() == raw
    assert new.text.endswith(end)
    assert [line for line in raw.decode().splitlines() if line.split(":")[0] != "horizon"] == [
        line
        for line in new.text.splitlines()
        if not line.startswith(("horizon:", "  - {azimuth", "# Told in an answer"))
    ]


def test_what_is_said_unasked_names_its_azimuths_and_is_taken(moon: Type) -> None:
    before = FILE.read_text("utf-8")
    assert moon("answer", "QT8NUI", "sky=free") == (
        2,
        "",
        "sky=free: no letter has asked QT8NUI about its sky, so it must be said over which azimuths. For the whole "
        "sky: mutual-moon answer QT8NUI sky=free@all; for an arc, clockwise from true north: mutual-moon answer QT8NUI "
        "sky=free@103-112.\n",
    )
    wrong = "sky=7@east: azimuths are meant, clockwise, such as @103-112, or @all for the whole sky.\n"
    assert moon("answer", "QT8NUI", "sky=7@east") == (2, "", wrong)
    # A direction is asked about with the line that says it, and that line is taken.
    code, _, err = moon("answer", "QT8NUI", "sky=9", "west")
    typed = "answer QT8NUI sky=9@225-315"
    which = "sky=9 west: over which azimuths? Around that direction it is\n"
    assert (code, err) == (2, f"{which}  mutual-moon {typed}\n")
    assert FILE.read_text("utf-8") == before
    assert "azimuth 225 to 315 degrees: free above 9 degrees\n" in moon(*typed.split())[1]
    FILE.write_text(before, "utf-8")
    assert "QT8NUI sky  the whole sky: free above 0 degrees\n" in moon("answer", "QT8NUI", "sky=free@all")[1]
    azimuth, height = mask_arrays(read_inputs(Path("stations/season.yaml")).partner("QT8NUI"))
    assert not np.interp([0.0, 107.0, 200.0], azimuth, height, period=360.0).any()
    assert "Elsewhere" not in FILE.read_text("utf-8")
    FILE.write_text(before, "utf-8")
    # An arc may pass north.
    assert "azimuth 350 to 12 degrees: free above 7 degrees\n" in moon("answer", "QT8NUI", "sky=7°@350-12")[1]
    azimuth, height = mask_arrays(read_inputs(Path("stations/season.yaml")).partner("QT8NUI"))
    assert list(np.interp([350.0, 0.0, 12.0, 180.0], azimuth, height, period=360.0)) == [7.0, 7.0, 7.0, 10.0]


def test_a_layout_beyond_us_is_told_with_the_line(moon: Type) -> None:
    fear_high_skylines()
    rest = ", ".join(REST.replace("bands:\n  3cm: {", "bands: {3cm: {").splitlines())
    FILE.write_text(f"{{call: QT8NUI, position: {{locator: RE44qt}}, {rest}}}}}\n", "utf-8")
    assert moon("plan", "--no-pdf")[0] == 0
    assert moon("letters", "--no-pdf")[0] == 0
    before = FILE.read_bytes()
    code, _, err = moon("answer", "QT8NUI", "sky=free")
    assert code == 2
    assert "change it by hand, the line is `horizon: [{azimuth_deg: " in err
    assert FILE.read_bytes() == before
