"""Every stage in order: the one plan, its tables, two plans compared."""
