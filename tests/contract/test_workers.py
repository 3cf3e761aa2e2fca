"""One suite over all kinds of workers: processes of this machine, and a real Dask scheduler with real workers."""

import pytest

from lapwright.app.workers import Finished, Work, open_workers, worked
from lapwright.app.workers.cluster import Cluster
from lapwright.errors import BadInput, Conflict, FileFormatError, WorkersLost
from lapwright.testing.chunks import always_dies, dies_once, fails_at_three, local_cluster, noted_square

SQUARES = [number * number for number in range(12)]
KINDS = ("one process", "two processes", "cluster")


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    """A scheduler with two workers."""
    with local_cluster(tmp_path_factory.mktemp("cluster"), 2) as there:
        yield there


@pytest.fixture(params=KINDS)
def workers(request):
    """Workers of a kind, not yet entered."""
    if request.param == "cluster":
        return open_workers(scheduler=request.getfixturevalue("cluster").address)
    return open_workers(1 if request.param == "one process" else 2)


def squares(folder, do=noted_square, count=12):
    """Work of so many chunks."""
    return Work(do=do, keys=range(count), load=lambda key: (key, str(folder)), told={"do": do.__name__})


def times_done(folder, number):
    """How often a chunk was computed."""
    return len(list(folder.glob(f"{number}-*")))


def test_results_stand_in_the_order_of_the_chunks_and_each_is_done_once(workers, tmp_path):
    """Whatever kind and number of workers."""
    told = []
    assert worked(squares(tmp_path), workers, progress=lambda *seen: told.append(seen)) == SQUARES
    assert [times_done(tmp_path, number) for number in range(12)] == [1] * 12
    assert told == [(done, 12) for done in range(13)]


def test_a_killed_worker_costs_only_its_chunk(workers, tmp_path):
    """The process is killed over chunk 5: that one is computed once more, and no result is missing.

    On a cluster a result that has not yet been fetched from the dead worker goes with it: one more at the most.
    """

    def fetched(done, _):
        (tmp_path / f"fetched-{done}").touch()

    assert worked(squares(tmp_path, dies_once), workers, progress=fetched) == SQUARES
    assert (tmp_path / "killed").exists()
    done = [times_done(tmp_path, number) for number in range(12)]
    assert done[5] == 2
    assert sum(done) - 13 <= (1 if isinstance(workers, Cluster) else 0)


def test_an_error_of_the_work_comes_through(workers, tmp_path):
    """It is no loss of workers, and not tried again."""
    with pytest.raises(ArithmeticError, match="three"):
        worked(squares(tmp_path, fails_at_three), workers)


def test_chunks_are_loaded_only_when_there_is_room(workers, tmp_path):
    """So that memory does not grow with their number: two a worker at most are under way."""
    loaded, most = [], []
    work = Work(
        do=noted_square,
        keys=range(12),
        load=lambda key: loaded.append(key) or (key, str(tmp_path)),
        told={},
    )
    worked(work, workers, progress=lambda done, _: most.append(len(loaded) - done))
    assert max(most) <= 2 * 2


def test_interrupted_work_goes_on_where_it_stopped(workers, tmp_path):
    """The first attempt ends at chunk 3; the second computes what the first had not finished, and nothing twice."""
    (tmp_path / "notes").mkdir()
    notes, kept = tmp_path / "notes", tmp_path / "finished"
    work = Work(do=fails_at_three, keys=range(8), load=lambda key: (key, str(notes)), told={"same": "work"})
    with pytest.raises(ArithmeticError):
        worked(work, workers, finished=Finished(kept))
    before = kept.read_bytes()
    kept.write_bytes(before + b'{"chunk": 7, "resu')  # cut off in mid-line, as by a failure of the power
    finished = dict(Finished(kept).begin(work.told))
    done = {number: times_done(notes, number) for number in range(8)}
    mended = Work(do=noted_square, keys=range(8), load=work.load, told=work.told)
    assert worked(mended, workers, finished=Finished(kept)) == SQUARES[:8]
    for number in finished:
        assert times_done(notes, number) == done[number] == 1


def test_a_worker_that_always_dies_ends_the_work_with_a_sentence(tmp_path):
    """After three attempts."""
    with pytest.raises(WorkersLost, match="died 3 times over part 3"):
        worked(squares(tmp_path, always_dies, 4), open_workers(2))


def test_a_file_of_other_work_is_refused(tmp_path):
    """It would mix two answers."""
    kept = tmp_path / "finished"
    worked(squares(tmp_path, count=2), open_workers(1), finished=Finished(kept))
    with pytest.raises(Conflict, match="other work"):
        worked(squares(tmp_path, dies_once, 2), open_workers(1), finished=Finished(kept))
    kept.write_text("site,value\n1,2\n")
    with pytest.raises(FileFormatError, match="no finished work"):
        worked(squares(tmp_path, count=2), open_workers(1), finished=Finished(kept))


def test_a_scheduler_that_is_not_there_is_told():
    """With how to start one."""
    with (
        pytest.raises(WorkersLost, match="dask scheduler"),
        open_workers(scheduler="tcp:/nowhere"),
    ):
        pass


def test_workers_and_a_scheduler_are_not_both_taken():
    """The scheduler has its own."""
    with pytest.raises(BadInput, match="Give one"):
        open_workers(2, "tcp://127.0.0.1:8786")
