"""Placeholder until written."""


def kill_commands(count: int) -> int:
    return 0
