"""What meets the keeper first."""
