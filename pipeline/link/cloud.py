"""What a thick cloud costs: from its water in a column, by the attenuation of small droplets.

Recommendation ITU-R P.840-8, equations 2 to 10 (double Debye model of water). A size to reckon with, never a forecast.
"""

from __future__ import annotations

import numpy as np

# Water in the column of a thick cloud without rain, kg/m2 (judgement after ITU-R P.840: exceeded 1 % of the time).
THICK_CLOUD_KG_PER_M2 = 1.0
CLOUD_TEMPERATURE_K = 273.15


def droplet_db_per_km(frequency_mhz: float, temperature_k: float = CLOUD_TEMPERATURE_K) -> float:
    """Loss for one gram of water in a cubic metre, dB/km; the same figure in dB for a column of 1 kg/m2."""
    f = frequency_mhz / 1000.0
    theta = 300.0 / temperature_k
    e0, e1, e2 = 77.66 + 103.3 * (theta - 1.0), 0.0671 * (77.66 + 103.3 * (theta - 1.0)), 3.52
    principal = 20.20 - 146.0 * (theta - 1.0) + 316.0 * (theta - 1.0) ** 2
    secondary = 39.8 * principal
    lossy = f * (e0 - e1) / (principal * (1.0 + (f / principal) ** 2)) + f * (e1 - e2) / (
        secondary * (1.0 + (f / secondary) ** 2)
    )
    real = (e0 - e1) / (1.0 + (f / principal) ** 2) + (e1 - e2) / (1.0 + (f / secondary) ** 2) + e2
    eta = (2.0 + real) / lossy
    return float(0.819 * f / (lossy * (1.0 + eta**2)))


def cloud_loss_db(frequency_mhz: float, elevation_deg: float, water_kg_per_m2: float = THICK_CLOUD_KG_PER_M2) -> float:
    """One way, dB, at an elevation; below 5 degrees as at 5, the least for which P.840 gives it."""
    height = np.sin(np.radians(max(elevation_deg, 5.0)))
    return float(droplet_db_per_km(frequency_mhz) * water_kg_per_m2 / height)
