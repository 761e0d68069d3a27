"""Who does the work: processes of this machine, or a cluster. What comes back does not depend on it.

Owns      sending jobs out, taking what comes back in any order, a worker that dies.
Not here  the work (``task``), its order in the results (``folder``).
"""

from __future__ import annotations

import os
import re
import signal
import threading
import time
from collections import deque
from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

from debrief.checkride.task import PROGRAM, Graded, Job, Settings, grade_job, grade_jobs, lost
from debrief.errors import DebriefError, Place
from debrief.threads import ONE_THREAD

if TYPE_CHECKING:
    from distributed import Client

_BATCH = 8  # jobs that travel together
_BATCHES_A_WORKER = 4  # at least, so that none waits long for the others at the end
_SENT_A_WORKER = 2  # batches: one under way, and the next, so that it never waits
_LOOKS_S = 1.0  # how often a worker looks whether there is still somebody to work for, and this process for dead workers
_UNDOING_S = 5.0  # for so long it may take away what is half written
_ADDRESS = re.compile(r"((tcp|tls|ws|wss|ucx)://)?([\w.-]+|\[[0-9a-fA-F:.]+\]):[0-9]{1,5}")
_DIED = "the worker that read it was ended by the system, twice: the log may need more memory than there is."


def graded(
    jobs: Sequence[Job], settings: Settings, *, workers: int | None = None, scheduler: str | None = None
) -> Iterator[Graded]:
    """Each job's outcome, as it is done.

    Parameters
    ----------
    workers : processes; 0 works in this one, ``None`` uses every processor.
    scheduler : the address of a Dask scheduler whose workers see the same folders; then ``workers`` has no say.

    Raises ``DebriefError`` where the cluster cannot be reached or runs another version.
    """
    if scheduler is not None:
        yield from _on_cluster(jobs, settings, scheduler)
    elif workers == 0:
        yield from (grade_job(job, settings) for job in jobs)
    else:
        yield from _in_processes(jobs, settings, workers or processors())


def processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _batches(jobs: Sequence[Job], workers: int) -> list[Sequence[Job]]:
    size = max(1, min(_BATCH, len(jobs) // (_BATCHES_A_WORKER * workers)))
    return [jobs[start : start + size] for start in range(0, len(jobs), size)]


def _in_processes(jobs: Sequence[Job], settings: Settings, workers: int) -> Iterator[Graded]:
    """In worker processes. Where one dies, what was under way is done again, log by log, and then the rest goes on."""
    left = deque(_batches(jobs, workers))
    while left:
        under_way = yield from _until_one_dies(left, settings, workers)
        for job in under_way:  # alone, so that the one which ends its worker takes no other along
            if (yield from _until_one_dies(deque([[job]]), settings, 1)):
                yield lost(job, settings, _DIED)


def _until_one_dies(
    left: deque[Sequence[Job]], settings: Settings, workers: int
) -> Generator[Graded, None, list[Job]]:
    """Take batches and give what came of them; at the end, what was under way when a worker died, if one did.

    A few batches are sent ahead, not all: the pool's own thread fails aloud over what still waits when it is ended.
    """
    from concurrent.futures import FIRST_COMPLETED, Future, wait
    from concurrent.futures.process import BrokenProcessPool

    from joblib.externals.loky import get_reusable_executor

    pool = get_reusable_executor(
        max_workers=workers, env=ONE_THREAD, initializer=_end_with, initargs=(os.getpid(),)
    )
    waiting: dict[Future[list[Graded]], Sequence[Job]] = {}
    under_way: list[Job] = []
    try:
        while True:
            while left and not under_way and len(waiting) < _SENT_A_WORKER * workers:
                batch = left.popleft()
                try:
                    waiting[pool.submit(grade_jobs, batch, settings)] = batch
                except BrokenProcessPool:
                    under_way += batch
            if not waiting:
                return under_way
            done = wait(waiting, timeout=_LOOKS_S, return_when=FIRST_COMPLETED).done
            if not done:
                _wake_if_one_died(pool)
            for future in done:
                batch = waiting.pop(future)
                try:
                    outcomes = future.result()
                except BrokenProcessPool:
                    under_way += batch
                else:
                    yield from outcomes
    finally:
        pool.shutdown(wait=False, kill_workers=True)


def _wake_if_one_died(pool: Any) -> None:
    """End a pool that does not see that a worker died: one killed half-way through sending what it had done.

    The pool's own thread waits for the rest then, and the other workers for their turn to send. It sees the end once
    nobody holds the sending side of that pipe any more.
    """
    from multiprocessing import connection

    processes = list(pool._processes.values())
    if connection.wait([process.sentinel for process in processes], timeout=0):
        for process in processes:
            with suppress(ProcessLookupError):
                os.kill(process.pid, signal.SIGKILL)
        pool._result_queue._writer.close()


def _end_with(parent: int) -> None:
    """Make this worker end with the process it works for: one that was killed cannot tell it to.

    Where a system gives no other parent to such a worker, it stays; so it does on one where a launcher may stand between
    the two.
    """

    def look() -> None:
        while os.getppid() == parent:
            time.sleep(_LOOKS_S)
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(_UNDOING_S)
        os._exit(1)

    if os.getppid() == parent:
        threading.Thread(target=look, daemon=True).start()
    elif os.name == "posix":  # it was killed before this worker was ready
        os._exit(1)


def _on_cluster(jobs: Sequence[Job], settings: Settings, address: str) -> Iterator[Graded]:
    with _client(address) as client:
        from distributed import as_completed

        workers = max(1, len(client.scheduler_info(n_workers=-1)["workers"]))
        try:
            shared = client.scatter(settings, broadcast=True, hash=False)
        except TimeoutError as error:
            raise DebriefError(
                "the cluster has no workers",
                where=Place(path=address),
                remedy="Start some: dask worker ADDRESS --nthreads 1.",
            ) from error
        batches = _batches(jobs, workers)
        waiting = {
            client.submit(grade_jobs, batch, shared, pure=False, retries=2): batch for batch in batches
        }
        for future in as_completed(waiting, loop=client.loop):
            if future.status == "finished":
                outcomes: list[Graded] = future.result()
            else:  # it was tried on several workers, and each died
                outcomes = [lost(job, settings, _DIED) for job in waiting[future]]
            for outcome in outcomes:
                if outcome.program != PROGRAM:
                    raise DebriefError(
                        f"the cluster's workers run {outcome.program}, this is {PROGRAM}",
                        where=Place(path=address),
                        remedy="Install the same version on all machines.",
                    )
                yield outcome
            future.release()


@contextmanager
def _client(address: str) -> Iterator[Client]:
    where = Place(path=address)
    # a client that was given another one complains a second time as it goes
    if not _ADDRESS.fullmatch(address):
        raise DebriefError(
            "the scheduler cannot be reached: this is no address of one",
            where=where,
            remedy="Give it as tcp://HOST:8786.",
        )
    try:
        from distributed import Client
    except ImportError as error:
        raise DebriefError(
            "--scheduler needs the package distributed",
            where=where,
            remedy="Install debrief with its extra: pip install 'debrief[cluster]'.",
        ) from error
    try:
        client = Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError, ImportError) as error:
        said = " ".join(str(error).split())[:200] or type(error).__name__
        raise DebriefError(
            f"the scheduler cannot be reached: {said}",
            where=where,
            remedy="Give its address, tcp://HOST:8786.",
        ) from error
    with client:
        yield client
