"""The skyline of a place from elevation tiles on the disk: files to grids of heights, grids to a horizon."""
