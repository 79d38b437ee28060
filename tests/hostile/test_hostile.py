"""A few hundred spoiled files for each reader: no traceback, no hang, every refusal a sentence that names the file.

The long run of the same is `python3 pipeline/bootstrap.py soak`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hostile.desks import DESKS, Desk, refusals
from tests.hostile.spoiling import spoiled

COUNT = 250


@pytest.mark.parametrize("desk", DESKS, ids=lambda desk: desk.name)
def test_valid_examples_are_taken(desk: Desk, tmp_path: Path) -> None:
    """Otherwise the spoiled ones would only show that everything is refused."""
    for example in desk.examples:
        desk.read(example, tmp_path)


@pytest.mark.parametrize("desk", DESKS, ids=lambda desk: desk.name)
def test_spoiled_files_are_read_or_refused_in_plain_words(desk: Desk, tmp_path: Path) -> None:
    for seed in range(COUNT):
        assert refusals(desk, spoiled(seed, desk.examples), tmp_path) == [], f"seed {seed}"
