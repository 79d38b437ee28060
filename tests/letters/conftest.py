"""What the tests of sending share: a mail server for each file, emptied for each test, and a season's folder."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.letters.post_office import PostOffice, running
from tests.letters.season_folder import SeasonFolder, lay_out


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PostOffice]:
    with running(tmp_path_factory.mktemp("office")) as made:
        yield made


@pytest.fixture
def office(server: PostOffice) -> PostOffice:
    server.faults.clear()
    server.taken.clear()
    server.connections = 0
    return server


@pytest.fixture
def season(tmp_path: Path) -> SeasonFolder:
    return lay_out(tmp_path)
