"""A few hands that carry letters at the same time, each over a channel of its own. They never touch the database.

A hand goes as far as the recipient being accepted, reports ``ready``, and waits for leave. Whoever gives leave decides
how many letters may be under way between their text and the server's answer. Hands only wait for servers: letters are
written by the giver, so that no writing competes with what stands between an answer and the next leave.
"""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from queue import Empty, SimpleQueue
from threading import Thread
from typing import Generic, TypeVar

from onboarding.mail.letter import Letter
from onboarding.mail.transport import Channel, Fate, NotPrepared, Outcome, Transport

T = TypeVar("T")
log = logging.getLogger(__name__)


@dataclass(eq=False)
class Errand(Generic[T]):
    """One letter to carry; ``about`` is the giver's own and is not looked at."""

    about: T
    letter: Letter
    leave: SimpleQueue[bool] = field(default_factory=SimpleQueue)


@dataclass(frozen=True)
class Ready(Generic[T]):
    """The recipient was accepted; the hand waits for leave."""

    errand: Errand[T]


@dataclass(frozen=True)
class Done(Generic[T]):
    """The errand is over; without an outcome because leave was not given."""

    errand: Errand[T]
    outcome: Outcome | None


class Crew(Generic[T]):
    """``hands`` threads, started as they are needed; ``events`` tells what happens."""

    def __init__(self, transport: Transport, hands: int) -> None:
        self.events: SimpleQueue[Ready[T] | Done[T]] = SimpleQueue()
        self._transport = transport
        self._hands = hands
        self._errands: SimpleQueue[Errand[T] | None] = SimpleQueue()
        self._threads: list[Thread] = []

    def take(self, errand: Errand[T]) -> None:
        """Carry ``errand`` as soon as a hand is free."""
        if len(self._threads) < self._hands:
            thread = Thread(target=self._work, name=f"mail-hand-{len(self._threads)}", daemon=True)
            self._threads.append(thread)
            thread.start()
        self._errands.put(errand)

    def take_back(self) -> None:
        """Take back the errands that no hand has begun."""
        while True:
            try:
                self._errands.get_nowait()
            except Empty:
                return

    def dismiss(self, *, seconds: float) -> None:
        """Let every hand close its channel and go; one that still waits for a server ends by itself later."""
        for _thread in self._threads:
            self._errands.put(None)
        ends = time.monotonic() + seconds
        for thread in self._threads:
            thread.join(max(0.0, ends - time.monotonic()))

    def _work(self) -> None:
        channel = self._transport.channel()
        while (errand := self._errands.get()) is not None:
            self.events.put(Done(errand, self._safely(lambda: self._carry(channel, errand))))
        channel.close()

    def _carry(self, channel: Channel, errand: Errand[T]) -> Outcome | None:
        try:
            channel.prepare(errand.letter)
        except NotPrepared as refusal:
            return refusal.outcome
        except Exception:
            log.exception("a mail channel failed before the text")
            return Outcome(Fate.LATER, "connection_lost")
        self.events.put(Ready(errand))
        if errand.leave.get():
            return channel.transmit(errand.letter)
        channel.abandon()
        return None

    def _safely(self, carry: Callable[[], Outcome | None]) -> Outcome | None:
        try:
            return carry()
        except Exception:
            log.exception("a mail channel failed")
            return Outcome(Fate.UNKNOWN, "sender_failed")
