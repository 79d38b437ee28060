"""What the sky, the Sun, the Moon and the air radiate into an antenna."""
