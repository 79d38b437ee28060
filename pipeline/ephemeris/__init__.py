"""Moon and Sun over a period, and where each station sees them."""
