"""Lines of an explanation that add up: signal both ways, own echoes, mode and margin, degradation.

Every figure is taken from the pair's link as the plan works it out.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.explain.explain_sky import STATION_FILE
from pipeline.explain.explanation import Line, Section, is_assumed
from pipeline.explain.remarks import AboveBestCase, ModesApart
from pipeline.inputs.modes import Mode
from pipeline.link.constants import REPORT_BANDWIDTH_HZ
from pipeline.link.noise import DEGRADATION_PARTS, noise_power_dbw
from pipeline.link.signal import PathTerms, spread_loss_db
from pipeline.pairs.budget import PairLink
from pipeline.pairs.ends import PairEnd
from pipeline.record.model import Correction

MODE_TABLE = "mode table, from memory"
LINK_EQUATION = "radio equation in decibels"
P676 = "ITU-R P.676-12 line by line through P.835-6"
GAUSSIAN = "Gaussian beam"


def number(value: npt.ArrayLike) -> float:
    """The one figure of a one-sample array."""
    return float(np.ravel(np.asarray(value, dtype=float))[0])


def column(link: PairLink, name: str) -> float:
    """A column of the link at its one sample."""
    return number(link.columns[name].astype(float))


def equipment_assumed(end: PairEnd, band: str, *keys: str) -> bool:
    """Whether a default stands for one of these keys of the band."""
    return is_assumed(end.station, *(f"bands.{band}.{key}" for key in keys))


def part_title(part: str) -> str:
    """A part of the noise in words: Sun and Moon are names."""
    return part.title() if part in ("sun", "moon") else part


def _budget_lines(
    sender: PairEnd,
    receiver: PairEnd,
    terms: PathTerms,
    temperature_k: npt.NDArray[np.float64],
    snr_db: float,
    band: str,
) -> list[Line]:
    gains = equipment_assumed(sender, band, "antenna") or equipment_assumed(receiver, band, "antenna")
    pointing = any(equipment_assumed(end, band, "pointing_error_deg", "antenna") for end in (sender, receiver))
    lines = [
        Line(
            "power at the feed",
            10.0 * np.log10(sender.equipment.power_w),
            "dBW",
            f"10 log10({sender.equipment.power_w:g} W)",
            STATION_FILE,
            equipment_assumed(sender, band, "power_w"),
        ),
        Line("+ gains", number(terms.gains_dbi), "dBi", "both antennas", "", gains),
    ]
    if number(terms.ground_gain_db):
        lines.append(Line("+ ground gain", number(terms.ground_gain_db), "dB", "both ends"))
    lines += _correction_lines(sender, receiver)
    lines += [
        Line("- path loss", number(terms.path_loss_db), "dB"),
        Line("- air", number(terms.air_db), "dB", "both ends"),
        Line("- pointing", number(terms.pointing_db), "dB", "both ends", "", pointing),
        Line("- obstruction", number(terms.obstruction_db), "dB", "both ends"),
        Line(
            "- narrow beams",
            number(terms.narrow_beam_db),
            "dB",
            "-10 log10((1 - e^-x) / x): beams narrower than the lit Moon",
            GAUSSIAN,
        ),
        Line("- polarization", number(terms.polarization_db), "dB"),
        Line(
            "- loss ahead of preamplifier",
            receiver.receiver.loss_before_preamplifier_db,
            "dB",
            "at the receiver",
            STATION_FILE,
            equipment_assumed(receiver, band, "loss_before_preamplifier_db"),
        ),
        Line(
            "- noise power",
            number(noise_power_dbw(temperature_k, REPORT_BANDWIDTH_HZ)),
            "dBW",
            "k T 2500 Hz",
            "",
            _noise_assumed(receiver, band),
        ),
    ]
    total = any(line.assumed for line in lines)
    return [*lines, Line("signal to noise", snr_db, "dB", "in 2500 Hz, the sum of the above", LINK_EQUATION, total)]


def _correction_lines(sender: PairEnd, receiver: PairEnd) -> list[Line]:
    """What logs have taught of the sender's transmit side and of the receiver's receive side, a line each."""
    return [
        Line(f"+ correction, {end.station.call} {side}", value, "dB", f"± {doubt:.1f} dB", end.correction)
        for end, side, value, doubt in (
            (sender, "sending", *_side(sender.correction, receives=False)),
            (receiver, "receiving", *_side(receiver.correction, receives=True)),
        )
        if end.correction is not None
    ]


def _side(correction: Correction | None, receives: bool) -> tuple[float, float]:
    """A side's correction and its uncertainty."""
    if correction is None:
        return 0.0, 0.0
    if receives:
        return correction.receive_db, correction.receive_uncertainty_db
    return correction.transmit_db, correction.transmit_uncertainty_db


def _noise_assumed(end: PairEnd, band: str) -> bool:
    keys = ("antenna", "noise_figure_db", "loss_before_preamplifier_db", "spillover_fraction")
    return equipment_assumed(end, band, *keys)


def signal_section(band: str, sender: PairEnd, receiver: PairEnd, link: PairLink, at: str) -> Section:
    """One way of the link, added up."""
    temperature = link.heard[at].now.total_k
    snr = column(link, f"snr_at_{at}_db")
    lines = _budget_lines(sender, receiver, link.terms[at], temperature, snr, band)
    return Section(f"Signal of {sender.station.call} at {receiver.station.call}", tuple(lines))


def echo_section(band: str, end: PairEnd, link: PairLink, name: str) -> Section:
    """A station's own echo, added up."""
    snr = column(link, f"{name}_echo_snr_db")
    lines = _budget_lines(end, end, link.echo_terms[name], link.heard[name].now.total_k, snr, band)
    return Section(f"Own echo of {end.station.call}", tuple(lines))


def margin_section(band: str, home: PairEnd, partner: PairEnd, link: PairLink) -> Section:
    """The mode both have that needs least at their usual spread, and what is left of the signal at each end."""
    mode = link.mode
    if mode is None:
        apart = ModesApart(tuple((end.station.call, tuple(end.equipment.modes)) for end in (home, partner)))
        return Section("Mode and margin", (), apart)
    assumed = any(equipment_assumed(end, band, "modes") for end in (home, partner))
    lines = [
        Line(
            "mode",
            _mode_words(mode),
            "",
            "needs least at the pair's usual spread, of those both have",
            MODE_TABLE,
            assumed,
        ),
        Line("needed", mode.needed_snr_db, "dB", "in 2500 Hz, half of the periods decode", MODE_TABLE),
        Line(
            "loss by spread",
            number(spread_loss_db(link.half_power_width_hz, mode.tone_spacing_hz)),
            "dB",
            f"5 log10(1 + b / w), w = {mode.tone_spacing_hz:.3g} Hz",
            "rule of thumb",
        ),
        *(
            Line(
                f"margin at {end.station.call}",
                column(link, f"margin_at_{name}_db"),
                "dB",
                "signal to noise - needed - loss by spread",
            )
            for name, end in (("partner", partner), ("home", home))
        ),
    ]
    return Section("Mode and margin", tuple(lines))


def _mode_words(mode: Mode) -> str:
    return f"{mode.mode}, {mode.period_s:g} s"


def degradation_section(home: PairEnd, partner: PairEnd, link: PairLink) -> Section:
    """The worse end against its best case, part by part."""
    worse = str(link.columns["worse_end"][0])
    end = home if worse == "home" else partner
    floor = number(link.heard[worse].best.total_k)
    words = {
        "distance": ("path loss against 356,400 km at both ends", "bistatic radar equation"),
        "air": ("its share of the noise's rise + loss both ways over the zeniths'", P676),
    }
    lines = [
        *(
            Line(
                f"{part_title(part)} part",
                column(link, f"degradation_{part}_db"),
                "dB",
                *words.get(part, ("share of the noise's rise, by kelvins", "")),
            )
            for part in DEGRADATION_PARTS
        ),
        Line("degradation", column(link, "degradation_db"), "dB", "sum of the parts"),
        Line("worse end", end.station.call, "", "the end with the larger sum"),
    ]
    rise = 10.0 * np.log10(number(link.heard[worse].now.total_k) / floor)
    return Section("Degradation", tuple(lines), AboveBestCase(end.station.call, float(rise), floor))
