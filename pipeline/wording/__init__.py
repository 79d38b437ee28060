"""Values of the rooms below as words, clocks, figures and lists; every sentence is made here."""
