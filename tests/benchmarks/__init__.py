"""Benchmarks: accuracy and speed; run by name, see each module."""
