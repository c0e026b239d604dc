"""Pure decisions: dates, hours and answers in, verdicts and plain reasons out. No Django."""
