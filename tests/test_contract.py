"""The contract of keys and columns in DEVELOPERS.md is that of the code, and says something of each."""

from __future__ import annotations

from pipeline.inputs.laying_out import LAYOUT
from pipeline.reports.column_meanings import MEANINGS, OWN_MEANINGS, general_name
from tests import ladder
from tests.contract import DEVELOPERS, FILES, columns, keys, meanings, refreshed


def test_the_contract_is_fresh() -> None:
    """If this fails: python -m tests.contract."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    assert refreshed(text) == text


def test_the_rooms_are_fresh() -> None:
    """If this fails: python -m tests.ladder."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    assert ladder.renewed(text) == text


def test_every_key_has_a_meaning_and_no_comment_is_lost() -> None:
    for file, cls in FILES.items():
        said = meanings((LAYOUT / f"{file}.yaml").read_text(encoding="utf-8"))
        found = list(keys(cls, said))
        assert [key.path for key in found if not key.meaning] == []
        paths = " ".join(key.path.replace("[]", "") for key in found)
        assert [path for path in said if path not in paths] == []


def test_every_column_has_a_meaning_and_every_meaning_a_column() -> None:
    found = {(table, column) for table, names in columns().items() for column in names}
    assert {general_name(column) for _, column in found} == set(MEANINGS)
    assert set(OWN_MEANINGS) <= found


def test_some_rows_by_hand() -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    for row in (
        "| `policy.assumed_skyline.nine_in_ten_deg` | number above 0 to 60 | degree | 10.0 | as above |",
        "| `bands.BAND.power_w` | number above 0 to 5000 | watt | of the band | Watts that arrive at the feed. |",
        "| `home_range_km` | kilometre, to 0.01 | distance from the station to the Moon |",
    ):
        assert row in text
