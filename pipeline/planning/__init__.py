"""Ties the stages together: windows, nights and the plan, from inputs, tracks and link figures."""
