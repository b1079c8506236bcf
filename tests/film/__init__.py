"""Test films with known truth: two invented spiders rendered from a seed, real pictures warped by a known pull.

Start at `tests.film.library.clip(profile, seed)`.
"""
