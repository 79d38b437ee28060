"""Measured heights into a skyline: what they change, what stays, and how the file looks afterwards."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.station import read_station
from pipeline.inputs.yaml_tree import load_tree
from pipeline.record.skyline_heights import card_heights, typed_heights
from pipeline.record.skyline_points import BESIDE_DEG, ONE_RIDGE_DEG, SkylinePoint, height_at, merged
from pipeline.record.skyline_writing import standing_points, with_points
from pipeline.wording.skylines import from_zenith_words

GUESS_DEG = 10.0
HEAD = "call: QA1AA\nposition: {locator: JO65}\n"


def line(points: list[SkylinePoint], azimuth: np.ndarray) -> np.ndarray:
    """Straight lines through the points, round through north: numpy's own, on one axis of three turns."""
    at = np.array([one.azimuth_deg % 360.0 for one in points])
    order = np.argsort(at)
    height = np.array([one.elevation_deg for one in points])[order]
    return np.interp(azimuth, np.concatenate([at[order] + turn for turn in (-360, 0, 360)]), np.tile(height, 3))


def test_heights_count_where_they_were_measured_and_nowhere_else() -> None:
    rng = np.random.default_rng(7)
    for _ in range(60):
        at = rng.choice(np.arange(0, 360, 8), 6, replace=False).astype(float)
        standing = [SkylinePoint(float(a), round(float(h), 2)) for a, h in zip(at, rng.uniform(0, 9, 6), strict=True)]
        measured = {float(a): float(h) for a, h in zip(rng.choice(360, 5, replace=False), range(2, 7), strict=True)}
        found = merged(standing, measured, GUESS_DEG)
        for azimuth, height in measured.items():
            assert line(found, np.array([azimuth]))[0] == pytest.approx(height)
        grid = np.arange(0.0, 360.0, 0.25)
        every = np.array([*at, *measured])
        nearest = np.min([np.abs((grid - one + 180) % 360 - 180) for one in measured], axis=0)
        # Beyond a ridge's reach of every measured azimuth the line is what it was, to the digits written.
        far = nearest > ONE_RIDGE_DEG
        assert np.abs(line(found, grid) - line(standing, grid))[far].max() < 0.02
        gaps = np.abs((every[:, None] - every + 180) % 360 - 180)
        alone = [m for i, m in enumerate(measured, len(at)) if np.sort(gaps[i])[1] > ONE_RIDGE_DEG + BESIDE_DEG]
        for azimuth in alone:
            beside = (np.array([azimuth - BESIDE_DEG, azimuth + BESIDE_DEG])) % 360
            assert line(found, beside) == pytest.approx(line(standing, beside), abs=0.006)


def test_one_ridge_is_one_line_and_two_are_not() -> None:
    assert ONE_RIDGE_DEG == 5.0, "README says five degrees"
    standing = [SkylinePoint(0.0, 1.0)]
    near = merged(standing, {100.0: 6.0, 105.0: 8.0}, GUESS_DEG)
    assert line(near, np.array([102.5]))[0] == pytest.approx(7.0)
    far = merged(standing, {100.0: 6.0, 106.0: 8.0}, GUESS_DEG)
    assert line(far, np.array([103.0]))[0] == pytest.approx(1.0)
    # North is no edge.
    assert line(merged(standing, {358.0: 5.0, 2.0: 5.0}, GUESS_DEG), np.array([359.0]))[0] == pytest.approx(3.0)


def test_a_point_that_only_kept_the_line_gives_way_to_a_tree_beside_it() -> None:
    first = merged([SkylinePoint(0.0, 1.0)], {300.0: 6.0}, GUESS_DEG)
    assert line(merged(first, {302.0: 6.0}, GUESS_DEG), np.array([301.0]))[0] == pytest.approx(6.0)
    # A gap that was measured stays a gap.
    gap = merged([SkylinePoint(0.0, 1.0)], {300.0: 6.0, 301.0: 1.5}, GUESS_DEG)
    assert line(merged(gap, {302.0: 6.0}, GUESS_DEG), np.array([301.0]))[0] == pytest.approx(1.5)


def test_without_a_skyline_a_cautious_guess_stands_beside() -> None:
    found = merged([], {80.0: 2.0, 83.0: 3.0}, GUESS_DEG)
    assert line(found, np.array([79.0, 84.0, 200.0])) == pytest.approx([GUESS_DEG] * 3)
    assert height_at([], 12.0, GUESS_DEG) == GUESS_DEG


LAYOUTS = {
    "a list": "horizon:  # as surveyed\n  # the ridge\n  - {azimuth_deg: 0, elevation_deg: 2.0}\n"
    "  - {azimuth_deg: 95, elevation_deg: 7.5}  # the oak\n  - {azimuth_deg: 260, elevation_deg: 1.0}\n# end\n",
    "blocks": "horizon:\n- azimuth_deg: 0\n  elevation_deg: 2.0\n- elevation_deg: 7.5  # the oak\n  azimuth_deg: 95\n"
    "# end\n- azimuth_deg: 260\n  elevation_deg: 1.0\n",
    "brackets": "horizon: [{azimuth_deg: 0, elevation_deg: 2.0}, {azimuth_deg: 95, elevation_deg: 7.5},\n"
    "  {azimuth_deg: 260, elevation_deg: 1.0}]  # the oak\n# end\n",
    "points": "horizon:\n  points:  # as surveyed\n  - {azimuth_deg: 0, elevation_deg: 2.0}\n"
    "  - {azimuth_deg: 95, elevation_deg: 7.5}  # the oak\n  - {azimuth_deg: 260, elevation_deg: 1.0}\n# end\n",
    "none": "# the oak\n# end\n",
    "empty": "horizon:\n# the oak\n# end\n",
    "a survey": "horizon: {file: survey.csv}  # the oak\n# end\n",
}


@pytest.mark.parametrize("eol", ["\n", "\r\n"], ids=["lf", "crlf"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_takes_points_and_keeps_its_words(layout: str, eol: str, tmp_path: Path) -> None:
    text = f"{HEAD}{LAYOUTS[layout]}time_zone: UTC  # mine\n".replace("\n", eol)
    survey = "azimuth_deg,elevation_deg\n0,2.0\n95,7.5\n260,1.0\n".replace("\n", eol)
    (tmp_path / "qa1aa.yaml").write_bytes(text.encode())
    (tmp_path / "survey.csv").write_bytes(survey.encode())

    def read() -> tuple:
        found = read_station(load_tree((tmp_path / "qa1aa.yaml").read_bytes(), "qa1aa.yaml", tmp_path))
        assert not found.faults
        return found.station

    station = read()
    standing = standing_points(station, tmp_path)
    points = merged(standing, {95.0: 8.0, 300.0: 6.0}, GUESS_DEG)
    new = with_points(station, tmp_path, points, "Measured.")
    assert new.path.name == ("survey.csv" if layout == "a survey" else "qa1aa.yaml")
    before = new.path.read_bytes().decode()
    new.path.write_bytes(new.text.encode())
    again = read()
    assert sorted((one.azimuth_deg, one.elevation_deg) for one in again.horizon) == sorted(
        (one.azimuth_deg, one.elevation_deg) for one in points
    )
    after = (tmp_path / "qa1aa.yaml").read_bytes().decode()
    for words in ("# the oak", "# end", "time_zone: UTC  # mine", "position: {locator: JO65}"):
        assert words in after
    assert new.text.count("\n") == new.text.count(eol)
    if layout in ("a list", "blocks", "points"):
        kept = [one for one in before.split(eol) if "7.5" not in one]
        assert [one for one in new.text.split(eol) if one in kept] == kept, "no other line moves or goes"
    # A second time the same heights change nothing.
    twice = with_points(again, tmp_path, merged(standing_points(again, tmp_path), {95.0: 8.0, 300.0: 6.0}, 10), "")
    if layout not in ("a survey", "brackets"):
        assert twice.text == new.text


def test_a_file_that_cannot_be_changed_safely_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "qa1aa.yaml"
    path.write_text("{call: QA1AA, position: {locator: JO65}}\n", "utf-8")
    station = read_station(load_tree(path.read_bytes(), "qa1aa.yaml", tmp_path)).station
    assert station is not None
    with pytest.raises(InputFaults, match=r"by hand, the line is `horizon: \[\{azimuth_deg: 30, elevation_deg: 4\}\]`"):
        with_points(station, tmp_path, [SkylinePoint(30.0, 4.0)], "")


def test_heights_are_read_alike_from_the_line_and_from_the_card(tmp_path: Path) -> None:
    card = tmp_path / "card.csv"
    for parted in ",;":
        rows = ["call,azimuth_deg,rank,measured_elevation_deg", "QA1AA,300,1,6", "QA1AA,301,2,", "QA1AA,305.5,3,7.5"]
        card.write_text("\n".join(rows).replace(",", parted), "utf-8")
        found = card_heights(card)
        assert found.by_azimuth == typed_heights(["300=6", "305.5=7.5"]).by_azimuth == {300.0: 6.0, 305.5: 7.5}
        assert found.call == "QA1AA"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("300", "an azimuth and its height are meant, such as 300=6."),
        ("300=6m", "degrees are meant, and 'm' is no such unit"),
        ("300=95", "the height is 95; degrees from -10 to 90 are meant."),
        ("361=5", "the azimuth is 361; degrees from 0 to 360 are meant."),
        ("0=5,360=6", "azimuth 0 and 0 are one place on a skyline; keep one of the two."),
    ],
)
def test_every_odd_height_is_told(typed: str, said: str) -> None:
    with pytest.raises(InputFaults) as fault:
        typed_heights([f"{typed},x=1"])
    assert said in str(fault.value)
    assert "the azimuth is 'x'" in str(fault.value), "all faults in one go"


def test_a_degree_sign_changes_no_height() -> None:
    assert typed_heights(["300°=6°,305=7.5 º"]).by_azimuth == {300.0: 6.0, 305.0: 7.5}


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (["68;7 %"], "line 2: the height is '7 %', a slope; in degrees it is 4.0: write 4.0."),
        (
            ["4;68", "6,8;171"],
            "line 2: azimuth and height stand in each other's place; the azimuth is 68, the height 4,",
        ),
    ],
)
def test_a_card_in_another_habit_is_told_as_it_is_taken(rows: list[str], said: str, tmp_path: Path) -> None:
    """A slope of 7 percent is an angle of 4.0 degrees, its arctangent."""
    card = tmp_path / "card.csv"
    card.write_text("\n".join(["azimuth_deg;measured_elevation_deg", *rows]), "utf-8")
    with pytest.raises(InputFaults) as fault:
        card_heights(card)
    assert said in str(fault.value)
    assert len(fault.value.faults) == 1


def test_a_card_with_decimal_commas_and_heights_from_the_zenith(tmp_path: Path) -> None:
    card = tmp_path / "card.csv"
    card.write_text("azimuth_deg;measured_elevation_deg\n68,5;86\n70;83,5\n", "utf-8")
    found = card_heights(card).by_azimuth
    assert found == {68.5: 86.0, 70.0: 83.5}
    (note,) = from_zenith_words(found)
    assert note.endswith("is 68.5=4, 70=6.5 meant?")
    assert from_zenith_words({68.0: 86.0}) == from_zenith_words({68.0: 86.0, 70.0: 45.0}) == []


def test_a_survey_with_semicolons_takes_points_in_its_own_marks(tmp_path: Path) -> None:
    (tmp_path / "qa1aa.yaml").write_text(f"{HEAD}{LAYOUTS['a survey']}", "utf-8")
    (tmp_path / "survey.csv").write_text("azimuth_deg;elevation_deg\n0;2\n95;7,5\n", "utf-8")
    station = read_station(load_tree((tmp_path / "qa1aa.yaml").read_bytes(), "qa1aa.yaml", tmp_path)).station
    assert station is not None
    new = with_points(
        station, tmp_path, [SkylinePoint(0.0, 2.0), SkylinePoint(95.0, 8.0), SkylinePoint(120.0, 3.0)], ""
    )
    assert new.text == "azimuth_deg;elevation_deg\n0;2\n95;8\n120;3\n"
