"""The guide's table of accuracy: every bar is a small multiple of what was measured, and a test holds each."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.claims import Claim, claims, number_of

SMALL_MULTIPLE = 3.0
EXACT = ("none", "no difference")


def test_no_figure_stands_twice() -> None:
    assert len(claims()) == 19


@pytest.mark.parametrize("claim", [one for one in claims().values() if one.counted], ids=lambda one: one.figure)
def test_what_is_asserted_is_near_what_was_measured(claim: Claim) -> None:
    measured, unit = number_of(claim.measured)
    bar, of = number_of(claim.asserted)
    assert unit == of
    assert measured <= bar <= SMALL_MULTIPLE * measured * (1 + 1e-9)


def test_every_figure_is_held_by_a_test_or_holds_exactly() -> None:
    tests = "".join(path.read_text(encoding="utf-8") for path in sorted(Path(__file__).parent.rglob("test_*.py")))
    for claim in claims().values():
        if claim.counted:
            assert f'asserted("{claim.figure}")' in tests, claim.figure
        else:
            assert claim.asserted == "exactly", claim.figure
            assert claim.measured.startswith(EXACT), claim.figure
