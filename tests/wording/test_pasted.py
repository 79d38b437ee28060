"""What one is told to type is read by a shell as it was meant."""

from __future__ import annotations

import shlex
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.wording.pasted import all_pasted, pasted


@given(st.lists(st.text(st.characters(exclude_characters="\0", exclude_categories=("Cs",))), max_size=4))
def test_the_standard_library_reads_the_same_words(words: list[str]) -> None:
    """`shlex.split` follows the POSIX shell."""
    assert shlex.split(all_pasted(words)) == words


def test_plain_words_stay_plain() -> None:
    assert pasted("stations/season.yaml") == "stations/season.yaml"
    assert pasted("my season/season.yaml") == "'my season/season.yaml'"


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("stations\\season.yaml", "stations\\season.yaml"),
        ("C:\\my season\\a.yaml", '"C:\\my season\\a.yaml"'),
        ("a&b", '"a&b"'),
    ],
)
def test_windows_takes_double_quotes(word: str, told: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Common practice, no source: its shells know no single quotes."""
    monkeypatch.setattr(sys, "platform", "win32")
    assert pasted(word) == told
