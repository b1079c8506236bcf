"""Many pieces of long work on several processes or machines, each piece once, none able to take the others down.

A piece is a function of a module and one argument; function, argument and result must be able to travel between
processes. On this machine each piece runs in a process of its own, so that a decoder that crashes on a damaged film
costs that film only. Results are given out in the order of the pieces, whatever the order they were finished in.
"""

from __future__ import annotations

import ipaddress
import os
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from typing import Any

from clipmark import children
from clipmark.errors import ClipmarkError
from clipmark.progress import SILENT, Cancelled, Progress

Work = Callable[[Any, Progress], Any]
CRASHED = "The process that worked on it ended suddenly (code {0}); the file may be damaged or memory ran out."


class ClusterOutOfReach(ClipmarkError):
    def __init__(self, address: str, reason: str):
        super().__init__(f"No Dask scheduler answers at “{address}” ({reason}). Check the address, or leave it out.")
        self.address = address


class ClusterOpen(ClipmarkError):
    def __init__(self, address: str):
        super().__init__(
            f"“{address}” is not encrypted: whoever reaches it could run programs on your machines. "
            "Begin the cluster with TLS and give its tls:// address (docs/scale.md)."
        )
        self.address = address


@dataclass(frozen=True, slots=True)
class Tls:
    """The files of Dask's own TLS: whom to trust, and the certificate and key of this machine; empty: as Dask's
    configuration says."""

    ca_file: str = ""
    cert: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a piece: its result, or why there is none as a sentence."""

    place: int
    result: Any = None
    trouble: str = ""


class _Shares:
    """How much of each piece is done, in shares of a thousand, as one progress of all."""

    def __init__(self, pieces: int, progress: Progress):
        self._done = [0] * pieces
        self._progress, self._lock = progress, threading.Lock()

    def put(self, place: int, done: int, total: int) -> None:
        with self._lock:
            self._done[place] = 1_000 * done // max(total, 1)

    def tell(self) -> None:
        self._progress.advance(sum(self._done), 1_000 * len(self._done))


def run_all(work: Work, pieces: Sequence[Any], jobs: int, progress: Progress = SILENT) -> Iterator[Outcome]:
    """Run `work(piece, progress)` for all pieces, `jobs` at a time; outcomes in the order of the pieces.

    Raises:
        Cancelled, KeyboardInterrupt: through `progress` or the terminal; all processes are ended first, and outcomes
            not yet given out are lost to the caller.
    """
    shares, stop = _Shares(len(pieces), progress), threading.Event()
    pool = ThreadPoolExecutor(max_workers=max(jobs, 1))
    try:
        waiting = {pool.submit(_in_child, work, piece, place, shares, stop) for place, piece in enumerate(pieces)}
        yield from _in_order(waiting, shares.tell)
    finally:
        stop.set()
        pool.shutdown(wait=True, cancel_futures=True)


def _in_order(waiting: set[Future[Outcome]], tell: Callable[[], None]) -> Iterator[Outcome]:
    ready: dict[int, Outcome] = {}
    following = 0
    while waiting or following in ready:
        if following in ready:
            yield ready.pop(following)
            following += 1
            continue
        finished, waiting = wait(waiting, timeout=0.2, return_when=FIRST_COMPLETED)
        for future in finished:
            outcome = future.result()
            ready[outcome.place] = outcome
        tell()


def _in_child(work: Work, piece: Any, place: int, shares: _Shares, stop: threading.Event) -> Outcome:
    """One piece in a process of its own, watched from a thread."""
    if stop.is_set():
        return Outcome(place, trouble="stopped")
    ours, theirs = Pipe(duplex=False)
    child = children.process(_child, (work, piece, theirs))
    child.start()
    theirs.close()
    try:
        while not stop.is_set():
            if not ours.poll(0.2):
                continue
            try:
                said = ours.recv()
            except (EOFError, OSError):
                child.join()
                return Outcome(place, trouble=CRASHED.format(child.exitcode))
            if said[0] == "done":
                shares.put(place, 1, 1)
                return Outcome(place, result=said[1])
            if said[0] == "trouble":
                shares.put(place, 1, 1)
                return Outcome(place, trouble=said[1])
            shares.put(place, said[1], said[2])
        return Outcome(place, trouble="stopped")
    finally:
        ours.close()
        if child.is_alive() and stop.is_set():
            child.terminate()
        child.join()


class _Sender:
    """The Progress of a child: at most a few words a second to the parent."""

    def __init__(self, pipe: Connection):
        self._pipe, self._next = pipe, 0.0

    def advance(self, done: int, total: int) -> None:
        if time.monotonic() >= self._next:
            self._next = time.monotonic() + 0.3
            self._pipe.send(("at", done, total))


def _child(work: Work, piece: Any, pipe: Connection) -> None:
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to the parent, which ends us
    one_thread()
    try:
        pipe.send(answer(work, piece, _Sender(pipe)))
    except (BrokenPipeError, OSError):  # the parent is gone: nobody wants the result
        os._exit(1)
    pipe.close()


def answer(work: Work, piece: Any, progress: Progress = SILENT) -> tuple[str, Any]:
    """("done", result) or ("trouble", sentence): errors do not travel well between processes, words do."""
    try:
        return "done", work(piece, progress)
    except ClipmarkError as error:
        return "trouble", str(error)
    except Cancelled:
        return "trouble", "stopped"
    except Exception as error:
        return "trouble", f"Something in clipmark went wrong ({type(error).__name__}: {error})."


def one_thread() -> None:
    """Let the number libraries of this process use one thread: the processes share the cores already."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    import cv2

    cv2.setNumThreads(1)


def run_on_cluster(
    work: Work, pieces: Sequence[Any], address: str, progress: Progress = SILENT, tls: Tls | None = None
) -> Iterator[Outcome]:
    """As `run_all`, on the workers of an existing Dask scheduler; they need clipmark and the same paths to the film.

    Dask names functions to its workers by pickle, which can run code: so this machine talks to others by Dask's own
    TLS alone. Pieces and results should be text and bytes.

    Raises:
        ClusterOpen, ClusterOutOfReach; Cancelled through `progress`, after the pieces were called back.
    """
    from distributed import Client

    if not (address.startswith("tls://") or _is_here(address)):
        raise ClusterOpen(address)
    try:
        client = Client(address, timeout="10s", set_as_default=False, security=_security(address, tls or Tls()))
    except (OSError, ValueError, TypeError) as error:
        raise ClusterOutOfReach(address, str(error) or type(error).__name__) from error
    shares = _Shares(len(pieces), progress)
    futures: list[Any] = []
    try:
        futures = [client.submit(answer, work, piece, pure=False, retries=1) for piece in pieces]
        waiting = dict(enumerate(futures))
        for place in range(len(pieces)):
            while not futures[place].done():
                for other in [one for one, future in waiting.items() if future.done()]:
                    del waiting[other]
                    shares.put(other, 1, 1)
                shares.tell()
                time.sleep(0.1)  # the client's own thread listens meanwhile
            shares.put(place, 1, 1)
            waiting.pop(place, None)
            yield _from_cluster(place, futures[place])
        shares.tell()
    finally:
        client.cancel(futures)
        client.close()


def _is_here(address: str) -> bool:
    """Whether an address is of this machine, as far as it can be told without asking anybody."""
    host = address.rpartition("://")[2].rpartition(":")[0].strip("[]")
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _security(address: str, tls: Tls) -> Any:
    from distributed.security import Security

    if not address.startswith("tls://"):
        return None
    files = {"tls_ca_file": tls.ca_file, "tls_client_cert": tls.cert, "tls_client_key": tls.key}
    return Security(require_encryption=True, **{name: path for name, path in files.items() if path})


def _from_cluster(place: int, future: Any) -> Outcome:
    try:
        word, what = future.result()
    except Exception as error:  # the worker died, or could not import what it needs
        return Outcome(place, trouble=f"The worker failed ({type(error).__name__}: {error}).")
    return Outcome(place, result=what) if word == "done" else Outcome(place, trouble=what)
