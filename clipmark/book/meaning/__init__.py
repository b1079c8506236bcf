"""What acts and calls mean to each other, which of them count, and what the book takes."""
