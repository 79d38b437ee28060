"""Why a partner has fewer slots than it wants: the most decisive cause, and the least that would change it.

From the slot grid, the record and the agenda. What may help is proposed partner by partner (`proposals`) and told once
the whole agenda, made anew with it, holds a slot more (`trying`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pipeline.absence.cases import Case
from pipeline.absence.causes import (
    Absence,
)
from pipeline.absence.counterfactuals import Trials
from pipeline.absence.partner_causes import decisive_cause
from pipeline.absence.proposals import proposals
from pipeline.absence.trying import Attempts, served, slots_of, wanted_still
from pipeline.absence.unstated import unstated_behind
from pipeline.agenda.agenda import Agenda
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.windows.no_window import NoWindow


def partners_without_slot(
    grid: SlotGrid, agenda: Agenda, no_windows: Sequence[NoWindow | None]
) -> tuple[Absence | None, ...]:
    """The cause for each partner with fewer slots than it wants, None for the others; `no_windows` are theirs."""
    trials, attempts = Trials(grid, agenda.commitments), Attempts(grid, agenda)
    found: dict[int, Absence] = {}
    cases: dict[int, Case] = {}
    for pair, no_window in enumerate(no_windows):
        left = wanted_still(grid, agenda, pair)
        wanted, has = sum(left.values()), served(slots_of(agenda, pair), left)
        if wanted > has or (not wanted and not slots_of(agenda, pair)):
            case = Case(grid, agenda, trials, pair)
            found[pair] = replace(decisive_cause(case, no_window), has=has, wanted=wanted)
            if wanted and no_window is None:
                cases[pair] = case
    found |= _helped(found, cases, attempts)
    partners = grid.inputs.partners
    told = {
        pair: replace(one, unstated=unstated_behind(one, partners[pair], grid.band_of(pair)))
        for pair, one in found.items()
    }
    return tuple(told.get(pair) for pair in range(len(no_windows)))


def _helped(found: dict[int, Absence], cases: dict[int, Case], attempts: Attempts) -> dict[int, Absence]:
    """Those whom a remedy helps: everybody's first one is tried before anybody's second, the most promising first."""
    helped: dict[int, Absence] = {}
    ideas = {pair: proposals(case, found[pair]) for pair, case in cases.items()}
    waiting = sorted(cases, key=lambda pair: (-cases[pair].promise, pair))
    while waiting and attempts.left > 0:
        still = []
        for pair in waiting:
            # With no agenda left, what others asked for may still help: more room is asked for by many.
            if attempts.left <= 0 and not cases[pair].good.start.size:
                continue
            proposal = next(ideas[pair], None)
            if proposal is None:
                continue
            tried = attempts.outcome(pair, proposal.remedies)
            if tried is None:
                still.append(pair)
                continue
            now = found[pair]
            helped[pair] = replace(
                proposal.absence, second=proposal.second, has=now.has, wanted=now.wanted, tried=tried
            )
        waiting = still
    return helped
