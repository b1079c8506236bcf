"""Widgets that pages share: the picture, the log roll, the strip of neighbouring frames."""
