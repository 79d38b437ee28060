"""Logs of a season that never was: attempts in the plan's windows by stations whose true figures are hidden.

Each station has errors of its gain, power and noise, 1 dB each, so that every direction errs by 2 dB and both
directions of a pair by half in common, as `link.chance` holds. Every period fades by 1.5 dB and decodes where what is
left is above the mode's need. Reports are whole decibels; some are wild, some attempts end with a word for a figure.

`python -m tests.review.simulation` writes the demo's log anew.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.inputs.modes import Mode
from pipeline.pairs.equipment import pair_frequency_mhz
from pipeline.pairs.outcomes import opener_of
from pipeline.plan.plan import Plan
from pipeline.record.inputs import Inputs

FADING_DB = 1.5
FIGURE_DB = 1.0
# One report in twenty is off by the slip of a pen or the wrong signal decoded.
WILD_SHARE, WILD_DB = 0.05, 10.0
HEARD_WITHOUT_FIGURE_SHARE = 0.3
BY_EAR_MODES = ("CW", "SSB")
CSV_COLUMNS = (
    "partner", "night", "slot_start_utc", "slot_end_utc", "frequency_mhz", "band", "mode", "operator", "report_sent",
    "report_received", "completed", "time_utc", "remarks",
)  # fmt: skip
DEMO_SEED = 2027
DEMO_LOG = Path(__file__).resolve().parents[2] / "stations" / "log" / "2027-03.adi"


@dataclass(frozen=True)
class Offsets:
    """How much better a station truly sends and hears than its file says, dB."""

    transmit_db: float
    receive_db: float


@dataclass(frozen=True)
class Attempt:
    """One attempt as a log tells it; reports are texts, empty where none was exchanged."""

    call: str
    operator: str
    time_utc: dt.datetime
    slot_start_utc: dt.datetime
    slot_end_utc: dt.datetime
    night: dt.date
    band: str
    frequency_mhz: float
    mode: str
    report_sent: str
    report_received: str
    completed: bool
    heard: bool
    remarks: str


def draw_offsets(inputs: Inputs, seed: int) -> dict[str, Offsets]:
    """The hidden truth of every station, home among them."""
    random = np.random.default_rng(seed)
    found = {}
    for station in (inputs.home, *inputs.partners):
        gain, power, noise = random.normal(0.0, FIGURE_DB, 3)
        found[station.call] = Offsets(float(gain + power), float(gain + noise))
    return found


def simulate(
    inputs: Inputs,
    plan: Plan,
    offsets: Mapping[str, Offsets],
    seed: int,
    *,
    most_a_partner: int = 8,
    least_chance: float = 0.05,
    apart: bool = True,
    wild_share: float = WILD_SHARE,
) -> list[Attempt]:
    """Attempts in the best slots of the plan's windows, in order of time.

    At most so many a partner, evenly through the period; `apart` leaves a gap between slots, as one dish has to.
    Stations without offsets are as their files say.
    """
    random = np.random.default_rng(seed)
    windows = plan.windows[(plan.windows["chance"] >= least_chance) & plan.windows["slot_start_utc"].notna()]
    chosen: list[int] = []
    for _, mine in windows.groupby("partner", sort=False):
        places = np.linspace(0, len(mine) - 1, min(most_a_partner, len(mine))).round().astype(int)
        chosen += [int(row) for row in mine.index[np.unique(places)]]
    chosen.sort(key=lambda row: (plan.windows["slot_start_utc"][row], row))
    attempts: list[Attempt] = []
    gap = dt.timedelta(minutes=inputs.season.policy.gap_minutes if apart else -10_000_000)
    for row in chosen:
        start = plan.windows["slot_start_utc"][row].ceil("min").to_pydatetime()
        if attempts and start < attempts[-1].slot_end_utc + gap:
            continue
        attempt = _attempt(inputs, plan, row, start, offsets, random, wild_share)
        if attempt is not None:
            attempts.append(attempt)
    return attempts


def _attempt(
    inputs: Inputs,
    plan: Plan,
    row: int,
    start: dt.datetime,
    offsets: Mapping[str, Offsets],
    random: np.random.Generator,
    wild_share: float,
) -> Attempt | None:
    """One slot, period by period; None where the window leaves no time."""
    window = plan.windows.loc[row]
    partner = [station.call for station in inputs.partners].index(window["partner"])
    mode = plan.modes[partner]
    slot = dt.timedelta(minutes=inputs.season.policy.slot_minutes.most)
    end = min(start + slot, window["window_end_utc"].floor("min").to_pydatetime())
    periods = 0 if mode is None else int((end - start).total_seconds() // mode.period_s)
    if mode is None or periods < mode.messages:
        return None
    nothing, home, there = Offsets(0.0, 0.0), inputs.home.call, str(window["partner"])
    truth = {call: offsets.get(call, nothing) for call in (home, there)}
    error = {
        "partner": truth[home].transmit_db + truth[there].receive_db,
        "home": truth[there].transmit_db + truth[home].receive_db,
    }
    at = [start + dt.timedelta(seconds=(number + 0.5) * mode.period_s) for number in range(periods)]
    story = _exchange(plan.samples, there, at, mode, opener_of(inputs, partner), error, random)
    first = story["first"]
    when = start if first is None else start + dt.timedelta(seconds=int(first // 2) * 2 * mode.period_s)
    attempt = Attempt(
        call=there,
        operator=inputs.season.operators[0].call if inputs.season.operators else home,
        time_utc=when.replace(second=0),
        slot_start_utc=start,
        slot_end_utc=end,
        night=window["night"],
        band=str(window["band"]),
        frequency_mhz=pair_frequency_mhz(inputs, str(window["band"])),
        mode=mode.mode,
        report_sent=_report(story["sent"], mode, random, wild_share),
        report_received=_report(story["received"], mode, random, wild_share),
        completed=bool(story["completed"]),
        heard=story["sent"] is not None,
        remarks="",
    )
    if attempt.heard and not attempt.completed and random.random() < HEARD_WITHOUT_FIGURE_SHARE:
        return replace(attempt, report_sent="heard", remarks="traces, no figure")
    return attempt if attempt.heard else replace(attempt, remarks="nothing heard")


def _exchange(
    samples: pd.DataFrame,
    call: str,
    at: Sequence[dt.datetime],
    mode: Mode,
    opener: str,
    error: Mapping[str, float],
    random: np.random.Generator,
) -> dict[str, float | bool | None]:
    """What was decoded: true SNR of the partner at home and of home at the partner where a report of it was given.

    A report of a signal goes out with the first message its hearer sends after decoding it, and counts in home's log
    once home has it: home's own as soon as it hears the partner, the partner's with the partner's next message.
    """
    mine = samples[samples["partner"] == call]
    origin = mine["time_utc"].iloc[0]
    axis = (mine["time_utc"] - origin).dt.total_seconds().to_numpy()
    seconds = [(one - origin).total_seconds() for one in at]
    snr = {end: np.interp(seconds, axis, mine[f"snr_at_{end}_db"]) + error[end] for end in error}
    spread = np.interp(seconds, axis, mine["spread_loss_db"])
    other = {"home": "partner", "partner": "home"}
    decoded = 0
    given: dict[str, float | None] = {"home": None, "partner": None}
    result: dict[str, float | bool | None] = {"sent": None, "received": None, "completed": False, "first": None}
    for number in range(len(at)):
        sender = opener if number % 2 == 0 else other[opener]
        hearer = other[sender]
        if (decoded % 2 == 0) != (number % 2 == 0):
            continue
        heard_db = snr[hearer][number] + random.normal(0.0, FADING_DB)
        if heard_db - spread[number] <= mode.needed_snr_db:
            continue
        decoded += 1
        if result["first"] is None:
            result["first"] = float(number)
        if given[hearer] is None:
            given[hearer] = heard_db
        if hearer == "home":
            result["sent"] = given["home"]
            # The partner's message carries a report once the partner has heard home.
            result["received"] = given["partner"]
        if decoded == mode.messages:
            # The last message closes the contact: whoever sent it has all reports before.
            result["completed"] = True
            return result
    return result


def _report(snr_db: float | bool | None, mode: Mode, random: np.random.Generator, wild_share: float) -> str:
    """A report as it goes into a log: whole decibels, or by ear; now and then a wild one."""
    wild = random.random() < wild_share
    slip = float(random.choice([-WILD_DB, WILD_DB]))
    if snr_db is None:
        return ""
    if mode.mode in BY_EAR_MODES:
        return "O" if snr_db < mode.needed_snr_db + 5.0 else "559"
    return f"{round(float(snr_db) + (slip if wild else 0.0)):+03d}"


def as_adif(attempts: Sequence[Attempt]) -> str:
    """An ADI file of these attempts (ADIF 3.1.4): Q65 is a submode of MFSK there."""
    lines = ["Invented attempts of a season that never was.", _field("ADIF_VER", "3.1.4"), "<EOH>", ""]
    for one in attempts:
        fields = {
            "CALL": one.call, "OPERATOR": one.operator, "QSO_DATE": f"{one.time_utc:%Y%m%d}",
            "TIME_ON": f"{one.time_utc:%H%M}", "BAND": one.band, "FREQ": f"{one.frequency_mhz:g}",
            "MODE": "MFSK" if one.mode == "Q65" else one.mode, "SUBMODE": "Q65" if one.mode == "Q65" else "",
            "RST_SENT": one.report_sent, "RST_RCVD": one.report_received, "PROP_MODE": "EME",
            "QSO_COMPLETE": "Y" if one.completed else "N" if one.heard else "NIL", "COMMENT": one.remarks,
        }  # fmt: skip
        lines.append(" ".join(_field(name, text) for name, text in fields.items() if text) + " <EOR>")
    return "\n".join(lines) + "\n"


def _field(name: str, text: str) -> str:
    return f"<{name}:{len(text)}>{text}"


def as_csv(attempts: Sequence[Attempt]) -> str:
    """The sheets' log.csv of these attempts, filled in by hand."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for one in attempts:
        writer.writerow(
            [
                one.call, one.night, _z(one.slot_start_utc), _z(one.slot_end_utc), f"{one.frequency_mhz:g}", one.band,
                one.mode, one.operator, one.report_sent, one.report_received, "yes" if one.completed else "no",
                f"{one.time_utc:%H:%M}" if one.completed else "", one.remarks,
            ]
        )  # fmt: skip
    return out.getvalue()


def _z(instant: dt.datetime) -> str:
    return f"{instant:%Y-%m-%dT%H:%MZ}"


def demo_attempts() -> list[Attempt]:
    """The attempts of the demo's log."""
    from tests.plan.months import demo_inputs, month_plan

    inputs = demo_inputs()
    return simulate(inputs, month_plan(), draw_offsets(inputs, DEMO_SEED), DEMO_SEED, most_a_partner=6)


if __name__ == "__main__":
    DEMO_LOG.parent.mkdir(exist_ok=True)
    DEMO_LOG.write_text(as_adif(demo_attempts()), encoding="utf-8", newline="\n")
