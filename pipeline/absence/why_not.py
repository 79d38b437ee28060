"""Why a partner has fewer slots than it wants: the most decisive cause, and the least that would change it.

From the slot grid, the record and the agenda. What may help is proposed partner by partner (`proposals`) and told once
the whole agenda, made anew with it, holds a slot more (`trying`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from pipeline.absence.cases import Case
from pipeline.absence.causes import (
    Absence,
)
from pipeline.absence.counterfactuals import Trials
from pipeline.absence.partner_causes import decisive_cause
from pipeline.absence.proposals import Proposal, proposals
from pipeline.absence.trying import Attempts, served, slots_of
from pipeline.agenda.agenda import Agenda
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.windows.no_window import NoWindow


def partners_without_slot(
    grid: SlotGrid, agenda: Agenda, no_windows: Sequence[NoWindow | None]
) -> tuple[Absence | None, ...]:
    """The cause for each partner with fewer slots than it wants, None for the others; `no_windows` are theirs."""
    trials, attempts = Trials(grid, agenda.commitments), Attempts(grid, agenda)
    found: dict[int, Absence] = {}
    open_cases: dict[int, tuple[float, Iterator[Proposal]]] = {}
    for pair, no_window in enumerate(no_windows):
        wish = grid.inputs.wishes[pair]
        wanted = wish.contacts_wanted * len(grid.operators)
        has = served(slots_of(agenda, pair), wish.contacts_wanted)
        if wanted > has or (not wanted and not slots_of(agenda, pair)):
            case = Case(grid, agenda, trials, pair)
            found[pair] = replace(decisive_cause(case, no_window), has=has, wanted=wanted)
            if wanted and no_window is None:
                promise = wish.priority * float(case.slots.chance_met.max(initial=0.0))
                open_cases[pair] = promise, proposals(case, found[pair])
    found |= _helped(found, open_cases, attempts)
    return tuple(found.get(pair) for pair in range(len(no_windows)))


def _helped(
    found: dict[int, Absence], cases: dict[int, tuple[float, Iterator[Proposal]]], attempts: Attempts
) -> dict[int, Absence]:
    """Those whom a remedy helps: everybody's first one is tried before anybody's second, the most promising first."""
    helped: dict[int, Absence] = {}
    waiting = sorted(cases, key=lambda pair: (-cases[pair][0], pair))
    while waiting and attempts.left > 0:
        still = []
        for pair in waiting:
            proposal = next(cases[pair][1], None)
            if proposal is None:
                continue
            tried = attempts.outcome(pair, proposal.remedies)
            if tried is None:
                still.append(pair)
                continue
            now = found[pair]
            told = replace(proposal.absence, second=proposal.second, has=now.has, wanted=now.wanted, tried=tried)
            helped[pair] = told
        waiting = still
    return helped
