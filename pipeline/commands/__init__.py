"""The commands, a module each: thin, reading and writing only through the rooms below."""
