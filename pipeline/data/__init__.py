"""Tables with their provenance, and the modules that derived them."""
