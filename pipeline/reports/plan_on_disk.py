"""Whether the plan in `out/` was made from the inputs as they are now: letters and sheets go out for that plan only.

By the hashes in the plan's `run.json`, which tells as well from which date was planned, and where home stands. The
ledger is not among them: sending changes nothing that a plan says.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.inputs.bounds import OWN, TooMuch
from pipeline.inputs.season import BEST
from pipeline.inputs.yaml_tree import printable

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan
    from pipeline.record.inputs import Inputs
    from pipeline.windows.span import Span

MOST_NAMED = 6
# What the program itself notes of answers, readings and reviews.
RECORD = "record/"


class PlanOutdated(RuntimeError):
    """There is no plan of the inputs as they are now; the text is one sentence for the user."""


class PlanOfAnother(RuntimeError):
    """The folder holds the plan of another home station; the text is one sentence for the user."""


def span_of(plan_or_period: Plan | Span) -> Span:
    """The period of a plan, or the period itself."""
    found: Any = plan_or_period
    period: Span = getattr(found, "period", found)
    return period


def require_plan(
    inputs: Inputs, plan_or_period: Plan | Span, out: Path, newer: Callable[[list[str]], None] | None = None
) -> Inputs:
    """The inputs with the date from which the plan of the period in `out` was made, where it was made from these.

    With the sites of its nights too, where home moves. Else PlanOutdated; but where `newer` is given and only the
    record has grown, that is told the files of the record. Raises OutputBlocked where that cannot be found out.
    """
    from pipeline.reports.tables import inputs_of
    from pipeline.reports.writing import put_in_order

    folder = out / span_of(plan_or_period).name
    file = folder / "data" / "run.json"
    if not file.is_file():
        # It may lie aside for a moment, or since a run that was cut short.
        put_in_order(folder)
    try:
        run = json.loads(OWN.read(file, file.as_posix()))
        made_from, begun = run["inputs"], run.get("planned_from")
        planned_from = None if begun is None else dt.date.fromisoformat(begun)
        sites = _sites(run)
    except TooMuch as much:
        raise PlanOutdated(f"{much}; run: plan") from None
    except FileNotFoundError:
        raise PlanOutdated(f"there is no plan in {folder.as_posix()} yet{_of_other_months(out)} run: plan") from None
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise PlanOutdated(f"{file.as_posix()} cannot be read; run: plan") from None
    names = changed_names(made_from, inputs_of(inputs))
    if names and newer is not None and all(name.startswith(RECORD) for name in names):
        newer(names)
    elif names:
        raise PlanOutdated(f"inputs changed since the plan in {folder.as_posix()} was made ({told(names)}); run: plan")
    return dataclasses.replace(inputs, planned_from=planned_from, sites=sites)


def _of_other_months(out: Path) -> str:
    """Which months have a plan, as a clause that leads to the command for this one."""
    months = [file.parents[1].name for file in sorted(out.glob("*/data/run.json"))]
    months = [name for name in months if re.fullmatch(r"\d{4}-\d\d", name)]
    if not months:
        return ";"
    return f", but one of {told(months)}: type the same with --month {months[-1]}; for this one"


def with_sites_on_disk(inputs: Inputs, out: Path) -> Inputs:
    """The inputs with the sites of the nights of all plans of this home in `out`, whatever has changed since.

    As they are where home does not move; a plan that cannot be read tells none.
    """
    if inputs.season.policy.sites != BEST:
        return inputs
    sites: dict[dt.date, str] = {}
    for file in sorted(out.glob("*/data/run.json")):
        try:
            run = json.loads(OWN.read(file))
            sites |= _sites(run) if run["home"] == inputs.home.call else {}
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError, TooMuch):
            continue
    return dataclasses.replace(inputs, sites=sites)


def _sites(run: dict[str, Any]) -> dict[dt.date, str]:
    return {dt.date.fromisoformat(night): str(name) for night, name in run.get("sites", {}).items()}


def require_same_home(plan: Plan, out: Path) -> None:
    """Nothing, where the folder of the period is free or holds a plan of the same home; else PlanOfAnother."""
    folder = out / plan.period.name
    try:
        home = json.loads(OWN.read(folder / "data" / "run.json"))["home"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return
    if home != plan.inputs.home.call:
        raise PlanOfAnother(
            f"{folder.as_posix()} holds the plan of {printable(str(home))}, not of {plan.inputs.home.call}; "
            "choose another folder with --out, or move that one away"
        )


def changed_names(before: Any, now: dict[str, str]) -> list[str]:
    """The files that were changed, added or taken away."""
    if not isinstance(before, dict):
        return sorted(now)
    return sorted(name for name in before.keys() | now.keys() if before.get(name) != now.get(name))


def told(names: list[str]) -> str:
    """A few names and how many more."""
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
