"""The film as it stands and runs: frames, sound, clock."""
