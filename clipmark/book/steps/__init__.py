"""What can be asked of an open book, what can be changed, and how each change is taken back."""
