"""What came of the plan: logs read, reports compared with predictions, station corrections learnt."""
