"""One instant of the link line by line; what follows from a station's figures."""
