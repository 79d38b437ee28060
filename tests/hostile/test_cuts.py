"""Every writing command ended at each of its steps on the disk: nothing half, nothing lost, the next run succeeds.

The process is gone at the n-th change, or there is no space left from then on; afterwards the same command runs again
and must give the bytes of a run that nobody disturbed. PDFs are stand-ins: what is written is meant, not what it says.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from pipeline.cli import run
from tests.hostile.cutting import Cut, failing_disk
from tests.hostile.full_swing import (
    BEFORE_SEND,
    COMMANDS,
    LEDGER,
    SEND,
    Type,
    after_cut,
    after_next,
    full_swing,
    settled,
    stand_in,
    timeless,
)
from tests.hostile.small_season import Picture, lay_out, picture, quiet, restore
from tests.letters.post_office import PostOffice, running

# Steps looked at in one run of the tests; the soak looks at random moments of real processes.
MOST = 5


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PostOffice]:
    with running(tmp_path_factory.mktemp("office")) as made:
        yield made


@pytest.fixture
def type_(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], office: PostOffice
) -> Type:
    """Types a command in the season's folder; what it says on the error stream."""
    lay_out(tmp_path / "desk")
    monkeypatch.chdir(tmp_path / "desk")
    for name, value in office.environment().items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    monkeypatch.setattr("pipeline.reports.pdf.render", stand_in)
    _remember(monkeypatch)

    def typing(*words: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
        code = run()
        return code, capsys.readouterr().err

    return typing


# What was made, by name and what it was made from: here only the writing of it is looked at.
MADE: dict[Any, Any] = {}


def _remember(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each plan, year, review and page is made once."""
    from pipeline.letters import making
    from pipeline.outlook import year
    from pipeline.plan import plan, replanned
    from pipeline.reports import calendar, tables, year_pages
    from pipeline.review import report, review
    from pipeline.sheets import document

    def kept(module: Any, name: str, key: Callable[..., Any]) -> None:
        real = getattr(module, name)

        def once(*arguments: Any, **named: Any) -> Any:
            named.pop("calendar", None)
            known = (name, key(*arguments))
            if known not in MADE:
                MADE[known] = real(*arguments, **named)
            return MADE[known]

        monkeypatch.setattr(module, name, once)

    def of(plan: Any) -> tuple[str, ...]:
        return plan.number, plan.inputs.record.ledger_sha256

    kept(plan, "make_plan", lambda inputs, *_: (str(inputs.files), inputs.record.ledger_sha256))
    kept(replanned, "replan", lambda plan, night, slip: (of(plan), night, str(slip)))
    kept(year, "make_year", lambda inputs, months, *_: (str(inputs.files), months))
    kept(year_pages, "year_files", lambda made, pdf: (made.number, len(made.nights), pdf))
    kept(calendar, "calendar_pages", lambda plan, pdf: (of(plan), pdf))
    kept(tables, "data_files", lambda plan, engine=None: (of(plan), engine))
    kept(document, "night_room", lambda plan, night, pdf, log=None, *rest: (of(plan), night, pdf, log, str(rest)))
    kept(making, "page_documents", lambda views, *_: str([(one.number, one.call, one.offers) for one in views]))
    kept(making, "partner_files", lambda view, _, page: (view.number, view.call, str(view.offers), page))
    kept(review, "make_review", lambda entries, found, inputs, _, *rest: str((entries, found, inputs, rest)))
    kept(report, "leaflet_files", lambda *given: str(given))


@cache
def _taken() -> list[Picture]:
    return []


def _full_swing(type_: Type, office: PostOffice) -> None:
    """The season in full swing; made once and then taken from its picture."""
    if not _taken():
        full_swing(type_, office)
        _taken().append(picture(Path.cwd()))
    restore(Path.cwd(), _taken()[0])


@pytest.mark.parametrize("no_space", [False, True], ids=["gone", "no space"])
@pytest.mark.parametrize("name", COMMANDS)
def test_cut_at_each_step(
    name: str, no_space: bool, type_: Type, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    words, before = COMMANDS[name]
    desk = Path.cwd()
    _full_swing(type_, office)
    for others in before:
        assert type_(*others)[0] == 0
    old = picture(desk)
    with failing_disk(monkeypatch, None, no_space) as whole:
        assert quiet(type_(*words))
    new = picture(desk)
    assert timeless(new) != timeless(old)
    # What a review has learnt makes the next plan, and so the number on the pages of the next review.
    assert quiet(type_(*words))
    twice = picture(desk)
    assert name == "review" or timeless(twice) == timeless(new)
    assert whole.count > 3
    told = False
    for limit in _steps(whole.count, MOST):
        restore(desk, old)
        where = f"{name}, cut at {limit} of {whole.count} ({whole.changes[limit - 1]})"
        with failing_disk(monkeypatch, limit, no_space) as disk:
            code, said = _cut(type_, words)
        assert disk.count >= limit
        assert after_cut(picture(desk), old, new) == [], where
        if no_space and code != 0:
            assert code == 2, where
            assert "no space left on device" in said, said
            assert "nothing was" in said, said
            assert said.count("\n") <= 2, said
            told = True
        assert quiet(type_(*words)), where
        assert after_next(picture(desk), new, twice) == [], where
    assert told == no_space


@pytest.mark.parametrize("no_space", [False, True], ids=["gone", "no space"])
def test_sending_cut_at_each_step(
    no_space: bool, type_: Type, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However it was cut and whatever the operator finds out then: in the end each partner has the letter once."""
    desk = Path.cwd()
    _full_swing(type_, office)
    for words in BEFORE_SEND:
        assert type_(*words)[0] == 0
    old = picture(desk)
    with failing_disk(monkeypatch, None, no_space) as whole:
        assert type_(*SEND) == (0, "")
    assert len(picture(desk)[LEDGER].splitlines()) == len(old[LEDGER].splitlines()) + 4, "two letters, two lines each"
    ends = set()
    for limit in range(1, whole.count + 1):
        restore(desk, old)
        office.taken.clear()
        where = f"cut at {limit} of {whole.count} ({whole.changes[limit - 1]})"
        with failing_disk(monkeypatch, limit, no_space):
            code, said = _cut(type_, SEND)
        if no_space and code != 0:
            assert "no space left on device" in said or "could not be written" in said, said
        ends.add(code)
        assert settled(type_, desk, office, old) == [], where
    assert ends == ({2, 4} if no_space else {None})


def _cut(type_: Type, words: tuple[str, ...]) -> tuple[int | None, str]:
    """The command until it is cut: no code where the process is gone."""
    try:
        return type_(*words)
    except Cut:
        return None, ""


def _steps(count: int, most: int) -> list[int]:
    """At most so many of 1 to count, evenly, the first and the last among them."""
    if count <= most:
        return list(range(1, count + 1))
    return sorted({1 + round(index * (count - 1) / (most - 1)) for index in range(most)})
