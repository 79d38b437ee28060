"""What one station hears of the other: path loss, antennas, noise, polarization, exposure."""
