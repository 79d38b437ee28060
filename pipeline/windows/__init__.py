"""When the Moon stands above both horizons: span, rules, passes, windows, the instants inside them."""
