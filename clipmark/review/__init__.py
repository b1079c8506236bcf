"""What the window shows and does that needs no window: values, files and geometry, all without Qt."""
