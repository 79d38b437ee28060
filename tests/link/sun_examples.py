"""The Sun's noise in four dishes, worked out by hand: the formula of flux and gain, with the form of ITU-R S.733."""

# Diameter in m, aperture efficiency, MHz, flux in sfu, system noise in K, and by how many dB the noise rises.
BY_HAND = [
    (3.0, 0.55, 10368, 300, 100, 15.48),
    (1.8, 0.55, 10368, 300, 120, 11.05),
    (2.4, 0.60, 10368, 280, 110, 13.59),
    (3.0, 0.55, 1296, 60, 90, 10.15),
]
