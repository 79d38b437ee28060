"""Small logs that the tests of this room write, and the demo's season to read them with."""

from __future__ import annotations

import dataclasses
from functools import lru_cache
from pathlib import Path

from pipeline.record.inputs import Inputs
from pipeline.record.log_entry import Finding, LogEntry
from pipeline.review.reading_logs import read_logs
from tests.plan.months import demo_inputs

DATA = Path(__file__).parent / "data"
SAMPLE = (
    "<CALL:5>QA1AA<QSO_DATE:8>20260105<TIME_ON:6>203000<BAND:3>3cm<FREQ:7>10368.1<MODE:2>CW<RST_SENT:1>O"
    "<RST_RCVD:1>O<PROP_MODE:3>EME<GRIDSQUARE:6>FN31pr<EOR>"
)


@lru_cache(maxsize=1)
def season() -> Inputs:
    """The demo's inputs, March 2027 on 3 cm."""
    return demo_inputs()


def with_partner(call: str) -> Inputs:
    """The demo with its first partner under another call."""
    inputs = season()
    first, *others = inputs.partners
    wish, *wishes = inputs.wishes
    renamed = dataclasses.replace(first, call=call)
    return dataclasses.replace(
        inputs, partners=(renamed, *others), wishes=(dataclasses.replace(wish, call=call), *wishes)
    )


def record(call: str = "QT8NUI", date: str = "20270302", time: str = "1315", **fields: str) -> str:
    """One ADI record: a contact in Q65 on 3 cm off the Moon where nothing else is said; empty fields are left out."""
    usual = {
        "BAND": "3cm", "FREQ": "10368.1", "MODE": "MFSK", "SUBMODE": "Q65", "RST_SENT": "-20", "RST_RCVD": "-21",
        "PROP_MODE": "EME",
    }  # fmt: skip
    whole = {"CALL": call, "QSO_DATE": date, "TIME_ON": time} | usual | fields
    return " ".join(f"<{name}:{len(text)}>{text}" for name, text in whole.items() if text) + " <EOR>"


def read(
    folder: Path, *texts: str | bytes, name: str = "log.adi", inputs: Inputs | None = None
) -> tuple[tuple[LogEntry, ...], tuple[Finding, ...]]:
    """The texts written as one file, a line each, and read."""
    file = folder / name
    lines = [text.encode() if isinstance(text, str) else text for text in texts]
    file.write_bytes(b"\n".join(lines) + b"\n")
    return read_logs([file], inputs or season())
