"""The sample session for somebody who has no film yet: a copy of the film and a book of its own."""

from __future__ import annotations

from clipmark import settings
from clipmark.book.film.sample import add_sample, sample_film
from clipmark.book.store import Book


def open_sample() -> tuple[Book, int]:
    """The sample's own book, open, and the id of its session; both are made where missing.

    Raises:
        ResourceMissing: the sample does not come with this copy of clipmark.
        CannotWrite: the data folder cannot be written; and what Book.open raises.
    """
    folder = settings.data_dir() / "sample"
    film = sample_film(folder)
    book = Book.open(folder / "sample.book")
    try:
        return book, add_sample(book, film)
    except BaseException:
        book.close()
        raise
