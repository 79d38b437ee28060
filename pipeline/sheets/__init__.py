"""What the crew takes to the dish: set-up, dish and radio sheets of one night."""
