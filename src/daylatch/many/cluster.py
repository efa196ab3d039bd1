"""Handing out the parts: to processes of this machine, or to a cluster that is there.

A worker that dies is no trouble: the scheduler gives its part to another one. Workers return bytes
and write nothing, so that they need not share a disk with whoever asks.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import signal
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from multiprocessing import resource_tracker
from typing import TYPE_CHECKING

import dask
import distributed

from daylatch.errors import ClusterError
from daylatch.many.parts import rows_of_part
from daylatch.many.work import plan_part

if TYPE_CHECKING:
    import threading
    from collections.abc import Callable, Iterator, Sequence

    from daylatch.many.parts import Part, Task
    from daylatch.many.roster import Roster
    from daylatch.many.work import Made

CONNECT_S = 10.0
PATIENCE_S = 60.0
"""How long there may be no worker at all."""
_LOOK_S = 0.5
_SOON_S = 3.0
_AHEAD = 2
"""Parts that wait for each thread of a worker, so that none is idle."""
_RETRIES = 3
# On one machine nothing is to be spilled or paused: a part takes some 100 MB, whatever the table.
_SETTINGS = {
    "distributed.worker.memory.target": False,
    "distributed.worker.memory.spill": False,
    "distributed.worker.memory.pause": False,
    "distributed.worker.memory.terminate": False,
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
    "distributed.comm.timeouts.connect": f"{CONNECT_S:g}s",
    "distributed.scheduler.allowed-failures": _RETRIES,
}


@contextlib.contextmanager
def connect(workers: int, scheduler: str | None) -> Iterator[distributed.Client]:
    """Give a client of a scheduler with workers.

    Parameters
    ----------
    workers
        How many processes to start, where no scheduler is given.
    scheduler
        The address of one that is there, such as ``tcp://10.0.0.5:8786``.

    Raises
    ------
    ClusterError
        If there is none, or it has no workers.
    """
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    with contextlib.ExitStack() as stack:
        stack.enter_context(dask.config.set(_SETTINGS))
        if scheduler is None:
            folder = stack.enter_context(
                tempfile.TemporaryDirectory(prefix="daylatch-many-", ignore_cleanup_errors=True)
            )
            stack.enter_context(dask.config.set({"temporary-directory": folder}))
            address = stack.enter_context(_processes(workers, folder))
        else:
            address = scheduler
        try:
            if scheduler is not None:
                # A client waits without end for a program that is no scheduler.
                _ask_who_it_is(scheduler)
            client = stack.enter_context(distributed.Client(address, timeout=CONNECT_S))
            client.wait_for_workers(1, timeout=CONNECT_S)
        except TypeError as error:
            raise ClusterError(
                f"--scheduler {scheduler}: cannot be spoken to as dask is set up here: write a "
                "tcp:// address, or name the certificates for tls:// in dask's configuration "
                "(distributed.comm.tls)"
            ) from error
        except (OSError, ValueError, TimeoutError) as error:
            raise ClusterError(_unreachable(scheduler, error)) from error
        yield client


def _ask_who_it_is(scheduler: str) -> None:
    """Ask a scheduler who it is, and wait no longer than `CONNECT_S`.

    Raises
    ------
    OSError, ValueError, TypeError
        If nobody answers, or there can be no such address.
    """

    async def ask() -> None:
        arguments = distributed.Security().get_connection_args("client")
        async with distributed.rpc(scheduler, connection_args=arguments) as there:
            await there.identity()

    async def ask_in_time() -> None:
        await asyncio.wait_for(ask(), CONNECT_S)

    # By a thread of its own: whoever calls may be within a loop of events.
    with ThreadPoolExecutor(1) as thread:
        thread.submit(lambda: asyncio.run(ask_in_time())).result()


def _processes(workers: int, folder: str) -> distributed.LocalCluster:
    """Return a scheduler of this process, with workers that are processes of their own.

    Whoever interrupts a run at the terminal interrupts all of its processes; the workers are to
    leave that to the one that asked them.
    """
    with _unheard(signal.SIGINT):
        return distributed.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            # Nobody else on this machine may hand out work to be run by this user.
            security=True,
            protocol="tls://",
            # Nothing is shown to browsers.
            dashboard_address="127.0.0.1:0",
            memory_limit=0,
            local_directory=folder,
            silence_logs=logging.CRITICAL,
        )


@contextlib.contextmanager
def _unheard(number: signal.Signals) -> Iterator[None]:
    """Keep a signal waiting, and from threads and processes that are begun meanwhile for good."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # Begun while a thread starts a process, it would let that thread hear the signal again.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {number})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _unreachable(scheduler: str | None, error: Exception) -> str:
    if scheduler is None:
        return f"no process could be started on this machine: {error}"
    if isinstance(error, TimeoutError) and "worker" in str(error).lower():
        return (
            f"--scheduler {scheduler}: it is there, but has no workers: start some with `dask "
            "worker ADDRESS`, with the same daylatch installed"
        )
    return (
        f"--scheduler {scheduler}: there is no scheduler that answers: check the address, such as "
        "tcp://10.0.0.5:8786, and that `dask scheduler` runs there"
    )


def require_same_versions(client: distributed.Client, task: Task) -> None:
    """See that every worker would make the plans that this process would make.

    Raises
    ------
    ClusterError
        Naming a worker that has other versions, or lacks the program.
    """
    found = client.run(_versions_there, on_error="return")
    for worker, versions in found.items():
        if isinstance(versions, BaseException) or tuple(versions) != tuple(task.versions):
            has = (
                "lacks what daylatch needs"
                if isinstance(versions, BaseException)
                else f"has daylatch {versions[0]} with zone rules {versions[1]}"
            )
            raise ClusterError(
                f"the worker at {worker} {has}, and this machine has {task.versions[0]} with "
                f"{task.versions[1]}: install the same there, with pip install 'daylatch[many]'"
            )


def _versions_there() -> tuple[str, str]:
    # Named here, so that a worker without it says so and is no mystery.
    from daylatch.many.parts import versions_here  # noqa: PLC0415

    return versions_here()


def plan_parts(
    client: distributed.Client,
    task: Task,
    roster: Roster,
    parts: Sequence[Part],
    stopped: threading.Event,
    tell: Callable[[str], None],
) -> Iterator[tuple[Part, Made]]:
    """Yield parts with what they became, as they are done; a few are in memory at a time.

    Parameters
    ----------
    client
        From `connect`.
    task, roster, parts
        What is to be planned.
    stopped
        Once it is set, no more are handed out or waited for.
    tell
        Is told what it waits for, once.

    Raises
    ------
    ClusterError
        If all workers are gone, or a part ends every worker that takes it.
    DaylatchError
        As `plan_part`.
    """
    left = iter(parts)
    waiting: dict[distributed.Future, Part] = {}
    seen = time.monotonic()
    while not stopped.is_set():
        seen = _patient(client, seen, tell)
        room = _AHEAD * max(sum(client.nthreads().values()), 1) - len(waiting)
        for part in _some(left, room):
            waiting[_submit(client, task, roster, part)] = part
        if not waiting:
            return
        with contextlib.suppress(TimeoutError):
            distributed.wait(list(waiting), timeout=_LOOK_S, return_when="FIRST_COMPLETED")
        for future in [future for future in waiting if future.done()]:
            part = waiting.pop(future)
            yield part, _result(future, part)
            future.release()


def _some(left: Iterator[Part], count: int) -> list[Part]:
    return [part for _, part in zip(range(count), left, strict=False)]


def _submit(
    client: distributed.Client, task: Task, roster: Roster, part: Part
) -> distributed.Future:
    return client.submit(
        plan_part,
        task,
        part.name,
        part.digest,
        rows_of_part(roster, part),
        key=f"daylatch-{part.digest}",
        pure=False,
        retries=_RETRIES,
    )


def _patient(client: distributed.Client, seen: float, tell: Callable[[str], None]) -> float:
    """Return when a worker was there last.

    Raises
    ------
    ClusterError
        If that is too long ago, or the scheduler is gone.
    """
    now = time.monotonic()
    if client.status == "running" and client.nthreads():
        return now
    if now - seen > PATIENCE_S or client.status in {"closed", "closing"}:
        raise ClusterError(
            "the scheduler or all of its workers are gone; finished parts stand, and the same "
            "command goes on from there"
        )
    if now - seen > _SOON_S:
        tell(f"all workers are gone; waiting up to {PATIENCE_S:.0f} s for another one")
    return seen


def _result(future: distributed.Future, part: Part) -> Made:
    try:
        made: Made = future.result()
    except distributed.KilledWorker as error:
        raise ClusterError(
            f"{part.name}: every worker that took this part has died, perhaps for want of memory; "
            "finished parts stand, and the same command goes on from there"
        ) from error
    except (distributed.client.FutureCancelledError, OSError) as error:
        raise ClusterError(
            "the scheduler is gone; finished parts stand, and the same command goes on from there"
        ) from error
    return made
