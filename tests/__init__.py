"""Tests; a package so that test films can be imported."""
