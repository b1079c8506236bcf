"""The After page: outcome, outlook, dates."""
