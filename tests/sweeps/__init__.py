"""Long trials over all of clipmark, run by name: `python -m pytest -m sweep tests/sweeps`."""
