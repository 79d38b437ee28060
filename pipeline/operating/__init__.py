"""What letters and sheets both need of a slot: dials, turns, pointing, where to search."""
