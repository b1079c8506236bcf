"""What follows from marks and calls: measures, answers, agreement, outlook, outcomes. Pure functions."""
