"""Many pieces of work on several processes."""

from __future__ import annotations

from pathlib import Path

import pytest

from clipmark.many import ClusterOutOfReach, Outcome, run_all, run_on_cluster
from clipmark.progress import Cancelled
from tests.many.pieces import awkward, slow, square


class Watched:
    """A Progress that notes what it was told and stops the work after so many words."""

    def __init__(self, stop_after: int = 10**6):
        self.told: list[tuple[int, int]] = []
        self._stop_after = stop_after

    def advance(self, done: int, total: int) -> None:
        self.told.append((done, total))
        if len(self.told) > self._stop_after:
            raise Cancelled


@pytest.mark.parametrize("jobs", [1, 3])
def test_results_come_in_the_order_of_the_pieces_whatever_is_finished_first(jobs: int) -> None:
    progress = Watched()
    expected = [Outcome(0, 0), Outcome(1, 1), Outcome(2, 4)]

    assert expected == list(run_all(square, [0, 1, 2], jobs, progress))
    assert progress.told == sorted(progress.told)
    assert {3_000} == {total for _, total in progress.told}


def test_a_piece_that_fails_or_crashes_costs_that_piece_only() -> None:
    told = list(run_all(awkward, ["words", "crash", "fault", "fine"], 2))

    assert "This film will not do." == told[0].trouble
    assert "ended suddenly (code -11)" in told[1].trouble
    assert "ZeroDivisionError: ours" in told[2].trouble
    assert Outcome(3, "fine") == told[3]


def test_a_stop_ends_all_processes(tmp_path: Path) -> None:
    import multiprocessing

    places = [str(tmp_path / name) for name in "ab"]
    with pytest.raises(Cancelled):
        list(run_all(slow, places, 2, Watched(stop_after=15)))

    assert [] == multiprocessing.active_children()


def test_nothing_to_do_is_done_at_once() -> None:
    assert [] == list(run_all(square, [], 2))


def test_a_cluster_that_does_not_answer_is_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed")

    def no_answer(*arguments: object, **options: object) -> None:
        raise OSError("Timed out trying to connect")

    monkeypatch.setattr(distributed, "Client", no_answer)
    with pytest.raises(ClusterOutOfReach, match="No Dask scheduler answers"):
        list(run_on_cluster(square, [1], "tcp://127.0.0.1:9"))


@pytest.mark.sweep
def test_a_dask_cluster_gives_the_same_as_this_machine() -> None:
    """A real LocalCluster of two processes."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        address = cluster.scheduler_address
        assert list(run_all(square, [0, 1, 2], 2)) == list(run_on_cluster(square, [0, 1, 2], address))
        told = list(run_on_cluster(awkward, ["words", "fault", "fine"], address))

    assert "This film will not do." == told[0].trouble
    assert "ZeroDivisionError" in told[1].trouble
    assert Outcome(2, "fine") == told[2]
