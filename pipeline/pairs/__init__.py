"""The link of home with each partner: both ends, what they hear, signals, chance and outcome."""
