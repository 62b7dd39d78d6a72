"""One reader per watched run, whose finds go to everybody who watches it."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import suppress
from dataclasses import dataclass, field

from optim.jobs.life_cycle import JobState
from optim.service.documents import Document, line_of, progress_document
from optim.service.http.feed import (
    OBJECTIVES,
    FeedShelf,
    RunFeed,
    points_document,
    wanted_metrics,
)
from optim.service.http.gate import LOCAL
from optim.service.http.logs import LOGGER
from optim.service.http.status import status_document
from optim.service.job_desk import JobDesk, JobView
from optim.store.errors import UnknownRunError

LOOK_SECONDS = 0.1
"""Time between two looks at a watched run [s]."""
SECONDS_PER_WATCHER = 0.00125
"""Time between two looks for each watcher where they are many: 200 are told every 0.25 s [s]."""
LONGEST_LOOK_SECONDS = 0.5
"""The longest time between two looks, well within the second that watchers may wait [s]."""
LEAST_PAUSE_SECONDS = 0.05
"""The event loop is left to others for so long, however late a look is [s]."""
PROGRESS_SECONDS = 0.2
"""Least time between two progress events [s]."""
QUIET_SECONDS = 15.0
"""After so long without an event a comment is sent, so that proxies keep the connection [s]."""
PORTION = 500
"""Points of one event at most."""
_BEHIND = 256
"""Events that a watcher may be behind before it is cut off."""
_OVER: tuple[JobState, ...] = ("done", "failed", "cancelled")


@dataclass(eq=False)
class _Channel:
    """The watchers of a run and how far they have been told."""

    feed: RunFeed
    told: int = 0
    is_over: bool = False
    frames: set[asyncio.Queue[bytes | None]] = field(default_factory=set)
    task: asyncio.Task[None] | None = None


class Hub:
    """Event streams of runs; lives on one event loop.

    Parameters
    ----------
    desk : JobDesk
        Knows the jobs.
    shelf : FeedShelf
        Knows their evaluations.
    """

    def __init__(self, desk: JobDesk, shelf: FeedShelf) -> None:
        self._desk = desk
        self._shelf = shelf
        self._channels: dict[str, _Channel] = {}

    @property
    def watchers(self) -> int:
        """How many streams are open."""
        return sum(len(channel.frames) for channel in self._channels.values())

    async def stream(self, view: JobView, *, after: int = 0) -> AsyncIterator[bytes]:
        """Yield the events of a run after a sequence, as text of an event stream.

        Parameters
        ----------
        view : JobView
            The run, which the caller may see.
        after : int
            Sequence of the last evaluation that the watcher knows.
        """
        run_id = view.record.run_id
        channel = self._channels.get(run_id)
        if channel is None:
            feed = await asyncio.to_thread(self._read, view)
            # Somebody else may have come first while this one waited.
            channel = self._channels.setdefault(run_id, _Channel(feed, told=feed.last))
        queue: asyncio.Queue[bytes | None] = asyncio.Queue(_BEHIND)
        channel.frames.add(queue)
        begin = channel.told
        if channel.task is None:
            channel.task = asyncio.create_task(self._pump(run_id, channel))
        try:
            yield b"retry: 2000\n\n"
            # What was told before this watcher came; what comes later is in its queue already.
            async for past in _past(channel.feed, after, begin):
                yield past
            yield _progress_frame(run_id, view.job.state, channel.feed, begin)
            # Nothing but waiting stands here: it is done by each watcher for each piece.
            while (frame := await queue.get()) is not None:
                yield frame
        finally:
            channel.frames.discard(queue)

    async def close(self) -> None:
        """End every stream."""
        for channel in list(self._channels.values()):
            if channel.task is not None:
                channel.task.cancel()
                with suppress(asyncio.CancelledError):
                    await channel.task
            _tell(channel, None)
        self._channels.clear()

    def _read(self, view: JobView) -> RunFeed:
        feed = self._shelf.feed(view.record)
        feed.refresh(view.record)
        return feed

    async def _pump(self, run_id: str, channel: _Channel) -> None:
        """Look at the run as long as somebody watches it."""
        look = _Look(self._desk, run_id, channel)
        clock = asyncio.get_running_loop().time
        spoken = clock()
        try:
            while channel.frames and not channel.is_over:
                began = clock()
                frames = await asyncio.to_thread(look)
                if not frames and clock() - spoken > QUIET_SECONDS:
                    frames = [b": still here\n\n"]
                if frames:
                    # In one piece: what costs is the number of writes, once a watcher each.
                    _tell(channel, b"".join(frames))
                    spoken = clock()
                channel.told = look.told
                if not look.is_over:
                    # What the look took is part of the time: points are late by it too.
                    due = began + time_between_looks(len(channel.frames))
                    await asyncio.sleep(max(due - clock(), LEAST_PAUSE_SECONDS))
                channel.is_over = look.is_over
        except UnknownRunError:
            pass  # deleted while it was watched
        except Exception:  # the streams must end rather than hang
            LOGGER.exception("watching broke off", extra={"run": run_id})
        finally:
            if self._channels.get(run_id) is channel:
                del self._channels[run_id]
            _tell(channel, None)


class _Look:
    """One look at a run: the frames of what is new. Called from a thread, one at a time."""

    def __init__(self, desk: JobDesk, run_id: str, channel: _Channel) -> None:
        self._desk = desk
        self._run_id = run_id
        self._feed = channel.feed
        self._clock: Callable[[], float] = asyncio.get_running_loop().time
        self._shown = -1.0
        self._state = ""
        self.told = channel.told
        self.is_over = False

    def __call__(self) -> list[bytes]:
        """Return the frames, each told by `told` after the last of them."""
        # The state is read before the rows: when it is over, no rows come after these.
        view = self._desk.status(self._run_id, LOCAL)
        last = self._feed.refresh(view.record)
        frames = []
        while self.told < last:
            points = self._feed.points(self.told, most=PORTION)
            frames.append(points_frame(self._feed, self.told))
            self.told = points[-1].sequence
        state = view.job.state
        is_due = bool(frames) and self._clock() - self._shown >= PROGRESS_SECONDS
        if is_due or state != self._state:
            frames.append(_progress_frame(self._run_id, state, self._feed, self.told))
            self._shown, self._state = self._clock(), state
        if state in _OVER:
            self.is_over = True
            frames.append(frame_of("end", status_document(view, self._feed), self.told))
        return frames


def time_between_looks(watchers: int) -> float:
    """Return the time [s]: longer for many, whose writes would take the workers' time."""
    return min(max(LOOK_SECONDS, watchers * SECONDS_PER_WATCHER), LONGEST_LOOK_SECONDS)


async def _past(feed: RunFeed, after: int, until: int) -> AsyncIterator[bytes]:
    while after < until:
        points = feed.points(after, until=until, most=PORTION)
        if not points:
            return
        yield await asyncio.to_thread(points_frame, feed, after, until)
        after = points[-1].sequence


def points_frame(feed: RunFeed, after: int, until: int | None = None) -> bytes:
    """Return the event of at most `PORTION` points after a sequence."""
    points = feed.points(after, until=until, most=PORTION)
    metrics = wanted_metrics(feed.study, OBJECTIVES)
    is_more = bool(points) and points[-1].sequence < (until or feed.last)
    content = points_document(feed, points, metrics=metrics, after=after, is_more=is_more)
    return frame_of("points", content, content["next"])


def _progress_frame(run_id: str, state: str, feed: RunFeed, number: int) -> bytes:
    return frame_of("progress", progress_document(run_id, state, feed.progress()), number)


def frame_of(event: str, content: Document, number: int) -> bytes:
    """Return an event as text of an event stream; the document is on one line."""
    return f"id: {number}\nevent: {event}\ndata: {line_of(content)}\n\n".encode()


def _tell(channel: _Channel, frame: bytes | None) -> None:
    for queue in list(channel.frames):
        if frame is not None and queue.full():
            # It reads too slowly: it is cut off and comes back from where it stood.
            channel.frames.discard(queue)
            while not queue.empty():
                queue.get_nowait()
            queue.put_nowait(None)
            continue
        if frame is None and queue.full():
            queue.get_nowait()
        queue.put_nowait(frame)
