"""What is known of the kinds: timings and facts with their sources, and which signs to expect of each."""
