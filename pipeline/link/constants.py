"""Constants of the link, SI units unless the name says otherwise; the source stands on each line."""

from __future__ import annotations

import math

SPEED_OF_LIGHT_M_S = 299_792_458.0  # exact, SI (BIPM 2019)
BOLTZMANN_J_K = 1.380649e-23  # exact, SI (BIPM 2019)
MOON_RADIUS_KM = 1737.4  # mean radius, IAU working group (Archinal and others 2018)
MOON_MEAN_DISTANCE_KM = 384_400.0  # mean distance of the centres (Meeus, chapter 50)
MOON_ALBEDO = 0.065  # Evans and Hagfors, Radar Astronomy, 1968; Pettengill 1965 gives 0.07
REFERENCE_DISTANCE_KM = 356_400.0  # a close perigee; both ends of the best case stand at this distance
FARTHEST_DISC_DEG = math.degrees(2.0 * math.asin(MOON_RADIUS_KM / 406_700.0))  # disc at a far apogee: 0.4895 degree
SUN_DISC_DEG = 0.533  # mean angular diameter, Allen's Astrophysical Quantities (from memory)
REFERENCE_TEMPERATURE_K = 290.0  # IEEE standard noise temperature; warm ground likewise
AIR_TEMPERATURE_K = 275.0  # mean radiating temperature of clear air, ITU-R P.618 (from memory)
REPORT_BANDWIDTH_HZ = 2500.0  # reports are signal-to-noise in this bandwidth by custom
SFU_W_M2_HZ = 1e-22  # one solar flux unit
