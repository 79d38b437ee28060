"""The record and the log: their schemas, how they are read and written, each once."""
