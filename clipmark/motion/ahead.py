"""Work in threads of its own beside the pass: pictures are made ready ahead of the one that is looked at, and what is
only needed at the end is done behind it. Order and results are the same as in one thread."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Generator, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from queue import Empty, Full, Queue
from types import TracebackType
from typing import ParamSpec, TypeVar

T = TypeVar("T")
P = ParamSpec("P")
_LOOK_S = 0.1
_END = object()


def ahead(items: Iterator[T], held: int = 16) -> Generator[T, None, None]:
    """The same items in the same order; up to `held` are taken in advance, in another thread.

    What `items` raises is raised here, after the items before it. Closing this iterator, or letting go of it, ends
    the thread, which closes `items` where they were made."""
    waiting: Queue[object] = Queue(held)
    stop = threading.Event()

    def put(item: object) -> bool:
        while not stop.is_set():
            try:
                waiting.put(item, timeout=_LOOK_S)
                return True
            except Full:
                continue
        return False

    def work() -> None:
        try:
            for item in items:
                if not put(item):
                    break
            else:
                put(_END)
        except BaseException as error:  # whatever it is, it belongs to the one who asked for the items
            put(_Failed(error))
        finally:
            close = getattr(items, "close", None)
            if close is not None:
                close()

    thread = threading.Thread(target=work, name="pictures ahead", daemon=True)
    thread.start()
    try:
        while True:
            item = waiting.get()
            if item is _END:
                return
            if isinstance(item, _Failed):
                raise item.error
            yield item  # type: ignore[misc]
    finally:
        stop.set()
        with suppress(Empty):
            waiting.get_nowait()  # so that a thread that waits for room sees at once that nobody wants more
        thread.join()


class Behind:
    """Does what it is given in another thread, one after the other.

    Args:
        held: so many pieces of work may wait; giving more waits.
    """

    def __init__(self, held: int = 16):
        self._held = held
        self._pool = ThreadPoolExecutor(1, "behind the pass")
        self._waiting: deque[Future[object]] = deque()

    def do(self, work: Callable[P, object], *args: P.args, **kwargs: P.kwargs) -> None:
        """Have it done later. Raises what earlier work raised."""
        while len(self._waiting) >= self._held:
            self._waiting.popleft().result()
        self._waiting.append(self._pool.submit(work, *args, **kwargs))

    def wait(self) -> None:
        """Until all is done. Raises what work raised."""
        while self._waiting:
            self._waiting.popleft().result()

    def __enter__(self) -> Behind:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._pool.shutdown(wait=True, cancel_futures=True)


class _Failed:
    def __init__(self, error: BaseException):
        self.error = error
