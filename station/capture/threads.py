"""The one file that crosses threads: radio loop, capture worker, and whoever paints.

Three threads joined by two bounded queues, one for each chore that a worker brings, and those that run a desk's
errands. The radio loop stamps and decodes, and never waits: when the worker is so far behind that its queue is full,
the newest block is dropped and counted, and the hole shows in the sample counter.
The worker owns engine and record. The painter is told by `wake` that something waits and fetches it with `drain`
on its own thread; a full picture queue drops the oldest, since each picture of the rack is complete.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import queue
import threading
import time
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from functools import partial
from typing import Any, Generic, Protocol, TypeVar, cast

from drivers.samples import SampleBlock
from station.capture.chores import Chore
from station.capture.link_news import LinkNews
from station.capture.rack_view import (
    LiveTrace,
    TroubleLine,
)
from station.store.record import Record

log = logging.getLogger(__name__)

INBOX_SIZE = 4096  # about four minutes of one sensor's packets
OUTBOX_SIZE = 256
TICK_S = 0.1
STOP_WAIT_S = 6.0
STOP_ASKS = 3
ASK_WAIT_S = 5.0

W = TypeVar("W", bound="Worker")
V = TypeVar("V")
R = TypeVar("R")
D = TypeVar("D")


class Worker(Protocol):
    """What runs in the capture worker's thread: a rack, or a jump line."""

    record: Record
    troubles: dict[str, TroubleLine]

    def samples(self, block: SampleBlock) -> None:
        """Samples from the link."""

    def link(self, news: LinkNews) -> None:
        """News of the link."""

    def tick(self, host_now_s: float) -> None:
        """Time passes."""

    def publish(self) -> None:
        """Show how things stand."""

    def close(self) -> None:
        """The end."""


@dataclass(frozen=True, slots=True)
class Touch(Generic[W]):
    """Something to be carried out by the worker: what a person did, or what one of several sensors sent."""

    carry_out: Callable[[W], None]


Hear = Callable[[SampleBlock | LinkNews], None]

# Where samples come from: a radio link, in its own asyncio loop, until cancelled.
Source = Callable[[Hear], Coroutine[Any, Any, None]]


@dataclass(frozen=True, slots=True)
class _Stop:
    """The worker finishes what is queued before this, and ends."""


class ChoreThread:
    """Runs one chore every so often until it is stopped; nobody ever waits for it but whoever stops it.

    Args:
        chore: what is done.
        pass_on: takes what the worker should do about it; called in this thread.
    """

    def __init__(
        self, chore: Chore, pass_on: Callable[[Callable[[Any], None]], object] = lambda _what: None
    ) -> None:
        self._chore, self._pass_on = chore, pass_on
        self._stopping = threading.Event()
        # A daemon, as the radio: a server that does not answer must not keep the program from ending.
        self._thread = threading.Thread(target=self._run, name="chore", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._stopping.wait(self._chore.every_s):
            try:
                found = self._chore.turn()
                if found is not None:
                    self._pass_on(found)
            except Exception:  # the thread's outermost frame: a chore that fails is done again
                log.exception("a chore met a fault and goes on")
        self._chore.close()

    def stop(self) -> None:
        """Stop it, and wait for a turn that is under way, though not for ever."""
        self._stopping.set()
        self._thread.join(STOP_WAIT_S)


class Errands(Generic[D]):
    """One thread of a desk that answers its screen's questions in turn: the screen never waits.

    Args:
        about: what questions are put to; nobody else touches it while this runs.
        wake: called in the thread when answers wait for `drain`; must only post.
    """

    def __init__(self, about: D, wake: Callable[[], None]) -> None:
        self._about, self._wake = about, wake
        # Unbounded on purpose: a person asks, a few at a time, and each is heard.
        self._inbox: queue.SimpleQueue[Callable[[], Callable[[], None]] | None] = queue.SimpleQueue()
        self._outbox: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="errands")
        self._thread.start()

    def ask(
        self,
        question: Callable[[D], R],
        then: Callable[[R], None],
        failed: Callable[[Exception], None] | None = None,
    ) -> None:
        """Put a question; the answer, or what it met, comes with a later `drain`.

        Without `failed`, what a question meets is raised by `drain`.
        """

        def carry_out() -> Callable[[], None]:
            try:
                found = question(self._about)
            except Exception as error:  # noqa: BLE001 - handed to the thread that asked
                return partial(failed or _raise, error)
            return partial(then, found)

        self._inbox.put(carry_out)

    def drain(self) -> None:
        """On the screen's thread: hand out the answers that have come."""
        with contextlib.suppress(queue.Empty):
            while True:
                self._outbox.get_nowait()()

    def stop(self) -> None:
        """Answer what is queued, and end."""
        self._inbox.put(None)
        self._thread.join()

    def _run(self) -> None:
        while (errand := self._inbox.get()) is not None:
            self._outbox.put(errand())
            self._wake()


def _raise(error: Exception) -> None:
    raise error


class CaptureThreads(Generic[W, V]):
    """Runs a worker: start, fetch pictures, stop.

    Args:
        make_worker: builds the worker in its thread (its database connection belongs there).
        source: the link; what it passes on may also be a `Touch`.
        wake: called from the worker when something waits for `drain`; must only post, never paint.
    """

    def __init__(
        self,
        make_worker: Callable[[Callable[[V | LiveTrace], None]], W],
        source: Callable[[Callable[[Any], None]], Coroutine[Any, Any, None]],
        wake: Callable[[], None],
    ) -> None:
        self._make_worker, self._source, self._wake = make_worker, source, wake
        self._inbox: queue.Queue[SampleBlock | LinkNews | Touch[W] | _Stop] = queue.Queue(INBOX_SIZE)
        self._outbox: queue.Queue[V | LiveTrace] = queue.Queue(OUTBOX_SIZE)
        self._waiting = threading.Event()
        self._ready = threading.Event()
        self._failure: BaseException | None = None
        self.dropped_blocks = 0
        self.faults: list[Exception] = []
        self._loop: asyncio.AbstractEventLoop | None = None
        self._link: asyncio.Task[None] | None = None
        self._worker = threading.Thread(target=self._work, name="capture worker")
        # A daemon: a radio stack that does not let go must not keep the program from ending. The worker, which
        # owns the record, is always waited for.
        self._radio = threading.Thread(target=self._run_radio, name="radio loop", daemon=True)
        self._stopping = threading.Event()

    # -- the painter's side ----------------------------------------------------------------------------------

    def start(self) -> None:
        """Start worker and radio.

        Raises:
            Exception: whatever kept the rack from starting, such as a `StoreError`.
        """
        self._worker.start()
        self._ready.wait()
        if self._failure is not None:
            self._worker.join()
            raise self._failure
        self._radio.start()

    def drain(self) -> list[V | LiveTrace]:
        """What waits to be painted, oldest first; only the newest picture is kept."""
        self._waiting.clear()
        got: list[V | LiveTrace] = []
        with contextlib.suppress(queue.Empty):
            while True:
                got.append(self._outbox.get_nowait())
        views = [item for item in got if not isinstance(item, LiveTrace)]
        return [item for item in got if isinstance(item, LiveTrace) or item is views[-1]]

    def stop(self) -> None:
        """Release the sensor, finish what is queued, close the record."""
        self._stop_radio()
        if self._worker.is_alive():
            self._inbox.put(_Stop())
            self._worker.join()

    def _stop_radio(self) -> None:
        self._stopping.set()
        for _ in range(STOP_ASKS):  # again, since a stack below may swallow one cancellation
            if not self._radio.is_alive():
                return
            if self._link is not None:
                self.in_radio_loop(self._link.cancel)
            self._radio.join(STOP_WAIT_S / STOP_ASKS)
        if self._radio.is_alive():
            log.warning("the radio did not let go of the sensor within %.0f s", STOP_WAIT_S)

    # -- the radio's side ------------------------------------------------------------------------------------

    def _run_radio(self) -> None:
        with contextlib.suppress(asyncio.CancelledError):
            asyncio.run(self._listen())

    async def _listen(self) -> None:
        self._link = asyncio.create_task(self._source(self._hear))
        self._loop = asyncio.get_running_loop()
        if self._stopping.is_set():  # asked to stop before there was anything to cancel
            self._link.cancel()
        await self._link

    def _hear(self, item: SampleBlock | LinkNews | Touch[W]) -> None:
        try:
            self._inbox.put_nowait(item)
        except queue.Full:
            self.dropped_blocks += 1

    # -- the worker's side -----------------------------------------------------------------------------------

    def _work(self) -> None:
        try:
            worker = self._make_worker(self._show)
        except BaseException as failure:  # noqa: BLE001 - handed to the thread that starts us
            self._failure = failure
            return
        finally:
            self._ready.set()
        chores = [ChoreThread(chore, self._pass_on) for chore in getattr(worker, "chores", ())]
        try:
            while self._turn_guarded(worker):
                pass
        finally:
            for one in chores:
                one.stop()
            try:
                worker.close()
            finally:
                worker.record.close()

    def _pass_on(self, what: Callable[[W], None]) -> None:
        """What a chore found; a worker that is far behind hears of it with the next news."""
        self._hear(Touch(what))

    def _turn_guarded(self, worker: W) -> bool:
        """One turn; a fault of ours is said on the screen and logged, and capture goes on."""
        try:
            return self._turn(worker)
        except Exception as fault:  # the thread's outermost frame: nothing above could say it
            log.exception("the capture worker met a fault and goes on")
            self.faults.append(fault)
            worker.troubles["fault"] = TroubleLine(
                "fault",
                f"The station met a fault: {fault}",
                "Capture goes on; tell whoever looks after it.",
                True,
            )
            worker.publish()
            return True

    def _turn(self, worker: W) -> bool:
        """Take one thing from the queue; False at the end."""
        try:
            item = self._inbox.get(timeout=TICK_S)
        except queue.Empty:
            worker.tick(time.monotonic())
            return True
        if isinstance(item, SampleBlock):
            worker.samples(item)
        elif isinstance(item, LinkNews):
            worker.link(item)
        elif isinstance(item, Touch):
            item.carry_out(worker)
        else:
            return False
        worker.tick(time.monotonic())
        return True

    def _show(self, item: V | LiveTrace) -> None:
        while True:
            try:
                self._outbox.put_nowait(item)
                break
            except queue.Full:
                with contextlib.suppress(queue.Empty):
                    self._outbox.get_nowait()
        if not self._waiting.is_set():
            self._waiting.set()
            self._wake()

    def ask(self, question: Callable[[W], R]) -> R:
        """Ask the worker and wait for its answer: for screens that are used while nobody lifts.

        Raises:
            TimeoutError: the worker did not come to it.
            Exception: what the question itself met, such as a `WriteFailed`.
        """
        answers: queue.Queue[tuple[R | None, Exception | None]] = queue.Queue(1)

        def answer(worker: W) -> None:
            try:
                answers.put((question(worker), None))
            except Exception as error:  # noqa: BLE001 - handed to the thread that asks
                answers.put((None, error))

        self.touch(answer)
        try:
            found, failure = answers.get(timeout=ASK_WAIT_S)
        except queue.Empty:
            raise TimeoutError("the station is busy; try again") from None
        if failure is not None:
            raise failure
        return cast(R, found)

    def touch(self, carry_out: Callable[[W], None]) -> None:
        """Have something carried out by the worker."""
        self._inbox.put(Touch(carry_out))

    def in_radio_loop(self, call: Callable[[], object]) -> None:
        """Have something called in the radio's loop; nothing where that has ended."""
        loop = self._loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop has closed meanwhile
                loop.call_soon_threadsafe(call)
