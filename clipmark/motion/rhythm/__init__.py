"""Drumming and shaking: bouts of strikes in the picture and in the sound, and whether the two agree."""
