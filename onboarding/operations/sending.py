"""One bounded sweep of the queue: claim, prepare on several connections, give leave one at a time, write down.

At most one letter of a process is ever between its text and the server's answer, so a process that is killed leaves at
most one mail of unknown fate. While that one travels, the next letters are written and their recipients accepted, and
one transaction writes down the last outcome and permits the next.
"""

import logging
import math
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from queue import Empty
from threading import Lock
from uuid import UUID

from django.conf import settings
from django.db import Error, connection, transaction

from onboarding.mail.compose import write_letter
from onboarding.mail.crew import Crew, Done, Errand, Ready
from onboarding.mail.outgoing import configured_transport
from onboarding.mail.transport import Fate, Outcome, Transport
from onboarding.models import Delivery
from onboarding.operations.claiming import (
    Claimed,
    anything_due,
    claim_due,
    hold_for_settings,
    hold_heads,
    recover_stale,
    release,
)
from onboarding.operations.deliveries import sender_is_awake
from onboarding.operations.outcomes import end_too_late, permit, record, relay_paused, tell_missed, tell_sent

SWEEP_SECONDS = 10.0
DATABASE_PATIENCE = 30.0
AT_ONCE = 20
STOP_PATIENCE = 1.5
"""Seconds that a sender told to stop waits for the answer to the letter under way; a clean stop takes five at most."""
MAKE_WAY = 0.005
"""Seconds in which a hand that was given leave has the interpreter to itself, so that its text is out before chores."""
_one_sweep_a_process = Lock()
log = logging.getLogger(__name__)


def sweep_deliveries(*, seconds: float = SWEEP_SECONDS, told_to_stop: Callable[[], bool] = lambda: False) -> bool:
    """Send what is due for about ``seconds``; says whether more is due now. Only one sweep of a process runs.

    Once ``told_to_stop()`` it only brings the letter that is under way to its end; one whose server does not answer
    soon is unknown.
    """
    if not _one_sweep_a_process.acquire(blocking=False):
        return False
    try:
        sender_is_awake()
        recover_stale()
        end_too_late()
        tell_missed()
        transport = configured_transport()
        if transport is None:
            hold_for_settings()
            return False
        if relay_paused():
            return False
        _Sweep(transport, seconds, told_to_stop).run()
        return not told_to_stop() and anything_due() and not relay_paused()
    finally:
        _one_sweep_a_process.release()


@dataclass
class _Sweep:
    transport: Transport
    seconds: float
    told_to_stop: Callable[[], bool]
    unwritten: deque[Claimed] = field(default_factory=deque)
    carried: dict[int, Errand[Claimed]] = field(default_factory=dict)
    ready: deque[Errand[Claimed]] = field(default_factory=deque)
    done: list[tuple[Claimed, Outcome]] = field(default_factory=list)
    untold: list[Delivery] = field(default_factory=list)
    in_flight: Errand[Claimed] | None = None
    makes_way_until: float = 0.0
    gives_up: float = math.inf
    queue_empty: bool = False
    closing: bool = False

    def run(self) -> None:
        """Until the time is up or nothing is due."""
        self.crew: Crew[Claimed] = Crew(self.transport, settings.MAIL_CONNECTIONS)
        self.ends = time.monotonic() + self.seconds
        try:
            while self._goes_on():
                self._settle()
                for event in self._events(0 if self._did_a_chore() else self._patience()):
                    self._note(event)
        finally:
            self._leave()

    def _goes_on(self) -> bool:
        now = time.monotonic()
        if self.told_to_stop():
            self.closing = True
            self.gives_up = min(self.gives_up, now + STOP_PATIENCE)
        if now >= self.ends:
            self.closing = True
        if self.in_flight is not None and now >= self.gives_up:
            self.done.append((self.in_flight.about, Outcome(Fate.UNKNOWN, "sender_stopped")))
            self.in_flight = None
        if self.closing:
            return self.in_flight is not None or bool(self.done)
        return not self.queue_empty or bool(self.unwritten or self.carried or self.done)

    def _did_a_chore(self) -> bool:
        """One piece of the work that need not stand between an answer and the next leave; False if there is none."""
        if self.closing or time.monotonic() < self.makes_way_until:
            return False
        if self.unwritten and len(self.carried) <= settings.MAIL_CONNECTIONS:
            self._hand_over(self.unwritten.popleft())
        elif len(self.untold) >= AT_ONCE:
            self._tell()
        elif not self.unwritten and not self.queue_empty:
            self._claim()
        else:
            return False
        return True

    def _claim(self) -> None:
        try:
            self.unwritten += claim_due(AT_ONCE)
        except Error:
            log.warning("the queue could not be read; this sweep ends")
            self.closing = True
        self.queue_empty = not self.unwritten

    def _hand_over(self, claimed: Claimed) -> None:
        try:
            letter = write_letter(claimed.facts, datetime.now(UTC))
            letter.wire  # noqa: B018  # written before the recipient is named, so that nothing fails in between
        except Exception:
            log.exception("a letter could not be written: template %s", claimed.facts.template)
            self.done.append((claimed, Outcome(Fate.LATER, "not_composed")))
            return
        errand = self.carried[claimed.delivery.pk] = Errand(claimed, letter)
        self.crew.take(errand)

    def _patience(self) -> float:
        if (way := self.makes_way_until - time.monotonic()) > 0:
            return way
        impatient = self.closing or self.done or (self.ready and self.in_flight is None)
        return 0.1 if impatient else min(0.2, max(0.05, self.ends - time.monotonic()))

    def _events(self, wait: float) -> list[Ready[Claimed] | Done[Claimed]]:
        found: list[Ready[Claimed] | Done[Claimed]] = []
        try:
            found.append(self.crew.events.get(timeout=wait))
            while True:
                found.append(self.crew.events.get_nowait())
        except Empty:
            return found

    def _note(self, event: Ready[Claimed] | Done[Claimed]) -> None:
        errand = event.errand
        if isinstance(event, Ready):
            self.ready.append(errand)
            return
        self.carried.pop(errand.about.delivery.pk, None)
        if errand is self.in_flight:
            self.in_flight, self.makes_way_until = None, 0.0
        if event.outcome is not None:
            self.done.append((errand.about, event.outcome))
            self.closing = self.closing or event.outcome.about_server

    def _settle(self) -> None:
        """One transaction for the outcomes that came in and for the next letter's leave."""
        free = self.in_flight is None and not self.closing and bool(self.ready)
        if not self.done and not free:
            return
        try:
            answers = self._write(self.done, list(self.ready) if free else [])
        except Error:
            log.warning("the database did not take what the sender wrote; each is tried alone")
            answers = {}
            self._write_patiently()
        self.untold += [one.delivery for one, outcome in self.done if outcome.fate is Fate.SENT]
        self.done = []
        for errand, allowed in answers.items():
            self.ready.remove(errand)
            if allowed:
                self.in_flight = errand
                self.makes_way_until = time.monotonic() + MAKE_WAY
            errand.leave.put(allowed)

    def _tell(self) -> None:
        try:
            tell_sent(self.untold)
        except Error:
            log.warning("invitations could not be told that their mail was sent; the next sweep tells them")
        self.untold = []

    def _write(
        self, done: list[tuple[Claimed, Outcome]], waiting: list[Errand[Claimed]]
    ) -> dict[Errand[Claimed], bool]:
        companies = [one.delivery.company_id for one, _outcome in done]
        companies += [errand.about.delivery.company_id for errand in waiting]
        answers: dict[Errand[Claimed], bool] = {}
        with transaction.atomic():
            hold_heads(companies)
            for claimed, outcome in done:
                record(claimed, outcome)
            for errand in waiting:
                answers[errand] = permit(errand.about)
                if answers[errand]:
                    break
        return answers

    def _write_patiently(self) -> None:
        """A mail that has left is written down even if the database is away for a while."""
        ends = time.monotonic() + DATABASE_PATIENCE
        for one in self.done:
            while not self._written(one) and time.monotonic() < ends:
                time.sleep(0.25)

    def _written(self, one: tuple[Claimed, Outcome]) -> bool:
        try:
            self._write([one], [])
        except Error:
            if not connection.in_atomic_block:
                connection.close()
            return False
        return True

    def _leave(self) -> None:
        """Give back what was not begun, refuse leave to what waits, and let the hands go."""
        self.crew.take_back()
        for errand in self.carried.values():
            errand.leave.put(False)
        self._tell()
        self.crew.dismiss(seconds=0.5 if self.gives_up == math.inf else 0.1)
        by_claim: dict[UUID, list[int]] = {}
        for claimed in [*self.unwritten, *(errand.about for errand in self.carried.values())]:
            by_claim.setdefault(claimed.claim, []).append(claimed.delivery.pk)
        try:
            for claim, pks in by_claim.items():
                release(claim, pks)
        except Error:
            log.warning("claims could not be given back; they run out by themselves")
