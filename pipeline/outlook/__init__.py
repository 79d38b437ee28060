"""What nights, weekends and a whole year are worth."""
