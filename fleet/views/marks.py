"""How states look: a word first, then a shape, then a tint (see templates/components/state.html).

Shapes: ``done``, ``waits`` (somebody else or the machine is at work), ``open`` (not begun), ``needs`` (one of us must
act), ``trouble`` and ``ended``.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fleet.models import HandoverCheck, Outcome, Stage

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

STAGE_SHAPES = {
    Stage.PLANNED: "open",
    Stage.INSTALLED: "waits",
    Stage.HANDED_OVER: "done",
    Stage.RETIRED: "ended",
}
FINDING_SHAPES = {
    HandoverCheck.Finding.OPEN: "needs",
    HandoverCheck.Finding.DONE: "done",
    HandoverCheck.Finding.PROBLEM: "trouble",
    HandoverCheck.Finding.WAIVED: "ended",
}
OUTCOME_SHAPES = {
    Outcome.LINKED: "done",
    Outcome.ALREADY_HERE: "done",
    Outcome.ELSEWHERE: "needs",
    Outcome.CONFIRM: "needs",
    Outcome.REFUSED: "trouble",
}


@dataclass(frozen=True, slots=True)
class Mark:
    """A state as people see it."""

    word: "StrOrPromise"
    shape: str


def stage_mark(stage: str) -> Mark:
    """How a site's stage looks."""
    known = Stage(stage)
    return Mark(known.label, STAGE_SHAPES[known])


def finding_mark(finding: str) -> Mark:
    """How a handover check's finding looks."""
    known = HandoverCheck.Finding(finding)
    return Mark(known.label, FINDING_SHAPES[known])


def outcome_mark(outcome: str) -> Mark:
    """How a scan's outcome looks."""
    known = Outcome(outcome)
    return Mark(known.label, OUTCOME_SHAPES[known])
