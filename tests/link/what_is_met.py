"""What a pattern meets in worked examples: shares put in by hand, and a whole integration by brute force."""

from __future__ import annotations

import numpy as np

from pipeline.link.antenna import Beam, main_beam_share
from pipeline.link.noise import Met, Receiver
from pipeline.link.pattern import meets_side_lobes_deg, part_shares, side_lobes_dbi
from pipeline.link.surroundings import Shares, Surroundings


def shares_by_hand(ground: float = 0.0, air: float = 0.0, main_open: float = 1.0, rest_open: float = 0.0) -> Shares:
    """Shares as single figures."""
    return Shares(*(np.asarray(share) for share in (ground, air, main_open, rest_open, 0.0)))


def high_up(receiver: Receiver, sky_k: float = 3.0, air_loss_db: float = 0.0, spill_sees_ground: bool = True) -> Met:
    """All of the pattern but the spill-over on one sky, through air that is the same everywhere."""
    beam, spill = receiver.beam, receiver.spillover_fraction if spill_sees_ground else 0.0
    passed = 10.0 ** (-air_loss_db / 10.0)
    main = float(main_beam_share(beam.beamwidth_deg, beam.gain_dbi, spill))
    shares = shares_by_hand(spill, (1.0 - spill) * (1.0 - passed), main * passed, (1.0 - main - spill) * passed)
    return Met(shares, sky_k, sky_k)


def integrated(
    around: Surroundings, beam: Beam, spillover_fraction: float, azimuth_deg: float, elevation_deg: float
) -> tuple[float, float, float, float]:
    """G, A, W of the main beam and W of the rest, weighted, by a sum over the whole sphere round the axis."""
    parts = part_shares(beam, spillover_fraction)
    theta = np.concatenate([[0.0], np.geomspace(1e-3 * beam.beamwidth_deg, 180.0, 3001)])
    around_deg = (np.arange(720) + 0.5) / 2.0
    middle, width = (theta[1:] + theta[:-1]) / 2.0, np.diff(theta)
    ring = np.sin(np.radians(middle)) * width
    main = np.exp(-4.0 * np.log(2.0) * (middle / beam.beamwidth_deg) ** 2) * ring
    side = (
        np.where(
            (middle >= meets_side_lobes_deg(beam)) & (middle <= 90.0),
            10.0 ** (side_lobes_dbi(middle, beam) / 10.0),
            0.0,
        )
        * ring
    )
    back = np.where(middle > 90.0, ring, 0.0)
    # Cartesian axes, not the formulas of the rings: x north, y east, z up.
    aim = np.radians([azimuth_deg, elevation_deg])
    axis = np.array([np.cos(aim[1]) * np.cos(aim[0]), np.cos(aim[1]) * np.sin(aim[0]), np.sin(aim[1])])
    right = np.array([-np.sin(aim[0]), np.cos(aim[0]), 0.0])
    above = np.cross(right, -axis)
    off, turn = np.radians(middle)[:, None, None], np.radians(around_deg)[None, :, None]
    ray = np.cos(off) * axis + np.sin(off) * (np.cos(turn) * above + np.sin(turn) * right)
    elevation = np.degrees(np.arcsin(np.clip(ray[..., 2], -1.0, 1.0)))
    azimuth = np.degrees(np.arctan2(ray[..., 1], ray[..., 0])) % 360.0
    below = elevation < around.skyline_deg(azimuth)
    lost = np.where(below, 0.0, 1.0 - around.passed(elevation))
    ground, air = below.mean(axis=1), lost.mean(axis=1)
    totals = np.zeros(4)
    for density, share, is_main in ((main, parts.main, True), (side, parts.side, False), (back, parts.back, False)):
        if share <= 0.0:
            continue
        weight = density / density.sum() * share
        g, a = float(weight @ ground), float(weight @ air)
        totals += [g, a, (share - g - a) * is_main, (share - g - a) * (not is_main)]
    return tuple(float(value) for value in totals)
