"""Speed side by side: `python3 pipeline/bootstrap.py bench`. Each line is ours and a rival's in the same run.

Never part of the tests: a ratio on a busy machine is a figure to read, not one to fail by.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.bench.documents import documents_case, help_case
from tests.bench.measure import RUNS, Measured, measure
from tests.record.ten_years import write_record
from tests.review.worlds import main as worlds

HEAD = (
    f"{'':40} {'processor s':>13} {'wall s':>13} {'rival, processor':>17} {'ratio':>7} {'MB':>5}\n"
    f"{'case':40} {'least median':>13} {'least median':>13} {'least median':>17} {'least':>7}"
)


def show(case: str, ours: Measured, rivals: dict[str, Measured]) -> None:
    """One line a rival; the ratio is of the processor's least seconds, which a busy machine spoils least."""
    left = f"{case:40} {ours.cpu_s!s:>13} {ours.wall_s!s:>13}"
    if not rivals:
        print(f"{left} {'':17} {'':7} {ours.peak_mb:5.0f}", flush=True)
    for name, rival in rivals.items():
        ratio = rival.cpu_s.least / ours.cpu_s.least
        print(
            f"{left} {rival.cpu_s!s:>17} {ratio:7.1f} {ours.peak_mb:5.0f}  {name} ({rival.peak_mb:.0f} MB)", flush=True
        )


def _same(ours: Measured, rivals: dict[str, Measured]) -> None:
    """The rivals answer the same question: as many windows, the same hours to a minute a window."""
    for name, rival in rivals.items():
        if ours.result["windows"] != rival.result["windows"]:
            print(f"  {name} finds {rival.result['windows']:.0f} windows, ours {ours.result['windows']:.0f}")
        if abs(ours.result["hours"] - rival.result["hours"]) * 60.0 > ours.result["windows"]:
            print(f"  {name} finds {rival.result['hours']:.2f} hours, ours {ours.result['hours']:.2f}")


def windows_case(partners: int, length: str, rival: str) -> None:
    """Windows alone."""
    ours = measure("ours.windows", partners, length)
    rivals = {rival: measure(f"{rival.lower()}_windows", partners, length, runs=_runs_of(rival))}
    show(f"{_partners(partners)}, a {length}, windows", ours, rivals)
    _same(ours, rivals)


def quantities_case(partners: int, length: str, rival: str) -> None:
    """Every figure of the samples against a rival's fewer ones."""
    ours = measure("ours.all_quantities", partners, length)
    rivals = {rival: measure(f"{rival.lower()}_quantities", partners, length, runs=_runs_of(rival))}
    show(f"{_partners(partners)}, a {length}, all quantities", ours, rivals)


def _runs_of(rival: str) -> int:
    """One of astropy takes longer than all else together."""
    return 1 if rival == "astropy" else RUNS


def plan_case(partners: int, length: str) -> None:
    """The whole plan, everybody available at all hours: the agenda's dearest case."""
    show(f"{_partners(partners)}, a {length}, whole plan", measure("ours.whole_plan", partners, length), {})


def size_cases() -> None:
    """Four seasons larger than most, everybody available at all hours; the gap is what the agenda may fall short by."""
    for partners, length, nights, slots in (
        (120, "month", 6, 3), (30, "quarter", 6, 3), (20, "month", 6, 3), (20, "month", 20, 6),
    ):  # fmt: skip
        made = measure("ours.whole_plan", partners, length, nights, slots, runs=1)
        show(f"{partners} partners, a {length}, {nights} nights of {slots}", made, {})
        print(f"  gap {made.result['gap']:.4f} of a contact")
    made = measure("ours.polar_plan", 9, "month", runs=1)
    show("9 partners, a month, home at 78 north", made, {})
    print(f"  gap {made.result['gap']:.4f} of a contact")
    show("20 partners, a year of nights", measure("ours.whole_year", 20, runs=1), {})


def _partners(count: int) -> str:
    return f"{count} partner{'' if count == 1 else 's'}"


def pairs_case(count: int, length: str) -> None:
    """All pairs of many stations into files; no rival would begin on it, so it stands alone."""
    made = measure("ours.every_pair", count, length)
    show(f"{count} stations, a {length}, {made.result['pairs']:,.0f} pairs", made, {})
    print(f"  {made.result['windows']:,.0f} windows, {made.result['file_mb']:.0f} MB of files")


def record_case() -> None:
    """3,000 mails to 100 partners in ten years, read as each command reads them."""
    with tempfile.TemporaryDirectory() as name:
        folder = str(write_record(Path(name) / "season", 3_000))
        parsers = measure("record.parsers", folder)
        show("the record of ten years", measure("record.ours", folder), {"the parsers alone": parsers})


def cost_table() -> None:
    """How the cost grows with stations and months; the slope says how many times more for ten times as many."""
    print("\nwindows, processor s (least) by number of partners and length")
    print(f"{'partners':>10} {'month':>9} {'year':>9}")
    for partners in (10, 100, 1000):
        row = [measure("ours.windows", partners, length).cpu_s.least for length in ("month", "year")]
        print(f"{partners:10} {row[0]:9.2f} {row[1]:9.2f}", flush=True)


def main(arguments: list[str]) -> int:
    """`quick` leaves out what takes minutes."""
    quick = "quick" in arguments
    print(HEAD)
    windows_case(12, "month", "Skyfield")
    quantities_case(12, "month", "Skyfield")
    plan_case(12, "month")
    windows_case(200, "month", "Skyfield")
    pairs_case(1000, "month")
    if not quick:
        windows_case(12, "year", "Skyfield")
        # The grid of minutes costs astropy twenty seconds a station and month.
        windows_case(1, "month", "astropy")
        quantities_case(1, "month", "astropy")
    documents_case()
    help_case()
    record_case()
    if not quick:
        size_cases()
        cost_table()
        print("\nwhat a log teaches, by worlds of 40 seasons")
        worlds(40, [])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
