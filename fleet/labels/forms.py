"""A company's own label forms: a pattern with named parts, kept only with examples that pass and others that fail.

Patterns run on RE2, whose time grows with the length of the text only, whatever the pattern; back-references and
look-around do not exist there and are refused when a form is saved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import re2

from fleet.labels.gs1_values import has_check_digit
from fleet.labels.mac import is_bare_mac, mac_of
from fleet.labels.plain import check_plain_value
from fleet.labels.reading import Refused

LONGEST_PATTERN = 500
LONGEST_TEXT = 512
LARGEST_PROGRAM = 1 << 20
"""Bytes that a compiled pattern may take."""
FEWEST_EXAMPLES = 1
PART_NAMES = ("serial", "part_number", "batch", "gtin", "mac", "maker", "model")


class BadForm(Exception):
    """A form that cannot be saved. ``problem`` is a key of :data:`PROBLEMS`, ``detail`` names what is meant."""

    def __init__(self, problem: str, detail: str = "") -> None:
        super().__init__(problem)
        self.problem = problem
        self.detail = detail


PROBLEMS: dict[str, str] = {
    "pattern_missing": "The form has no pattern.",
    "pattern_too_long": "The pattern is too long.",
    "pattern_wrong": "The pattern cannot be understood.",
    "pattern_too_large": "The pattern takes too much memory. Use smaller repetitions.",
    "part_unknown": "The pattern names a part that is none of ours.",
    "part_missing": "The pattern names neither a serial nor a MAC address.",
    "part_unbounded": "The pattern takes any text whatever. Say which characters a part may have.",
    "example_missing": "The form needs an example that it reads.",
    "counter_example_missing": "The form needs a text that it must not read.",
    "example_not_read": "The form does not read this example.",
    "example_differs": "The form reads this example differently from what is expected.",
    "counter_example_read": "The form reads a text that it must not read.",
}


@dataclass(frozen=True)
class Example:
    """A scanned text, and the facts that must come out of it, by part name."""

    text: str
    facts: Mapping[str, str]


@dataclass(frozen=True)
class LabelForm:
    """A pattern for a whole text; make it with :func:`compile_form`, which refuses what is not safe or not sensible."""

    name: str
    pattern: str
    examples: tuple[Example, ...] = field(default=())
    counter_examples: tuple[str, ...] = field(default=())
    key: str = ""
    """What stays the same when the form is renamed or its pattern changes."""

    @cached_property
    def _compiled(self) -> Any:
        return _compile(self.pattern)

    def read(self, text: str) -> dict[str, str] | None:
        """The named parts of a text of this form, or None. Never raises; time is linear in the text's length."""
        if len(text) > LONGEST_TEXT or not text.isascii():
            return None
        match = self._compiled.fullmatch(text)
        if match is None:
            return None
        return _facts({name: value for name, value in match.groupdict().items() if value})


@dataclass(frozen=True)
class Trial:
    """How one example is read, for showing beside it: ``facts`` is None where it is not read."""

    text: str
    facts: dict[str, str] | None
    problem: str = ""
    """A key of :data:`PROBLEMS`, or empty where all is as it must be."""


def compile_form(name: str, pattern: str, examples: Sequence[Example], counter_examples: Sequence[str]) -> LabelForm:
    """A form whose examples all pass and whose counter-examples all fail. Raises :class:`BadForm`."""
    form = LabelForm(name, pattern, tuple(examples), tuple(counter_examples))
    _check_pattern(pattern)
    if len(examples) < FEWEST_EXAMPLES:
        raise BadForm("example_missing")
    if not counter_examples:
        raise BadForm("counter_example_missing")
    for trial in try_form(form):
        if trial.problem:
            raise BadForm(trial.problem, trial.text)
    return form


def try_form(form: LabelForm) -> list[Trial]:
    """How each example and counter-example is read. Raises :class:`BadForm` where the pattern cannot run at all."""
    _check_pattern(form.pattern)
    trials = [_trial_of_example(form, example) for example in form.examples]
    for text in form.counter_examples:
        facts = form.read(text)
        trials.append(Trial(text, facts, "" if facts is None else "counter_example_read"))
    return trials


def _trial_of_example(form: LabelForm, example: Example) -> Trial:
    facts = form.read(example.text)
    if facts is None:
        return Trial(example.text, None, "example_not_read")
    return Trial(example.text, facts, "" if facts == dict(example.facts) else "example_differs")


def _compile(pattern: str) -> Any:
    options = re2.Options()
    options.max_mem = LARGEST_PROGRAM
    options.log_errors = False
    options.never_nl = False
    return re2.compile(pattern, options)


def _check_pattern(pattern: str) -> None:
    if not pattern:
        raise BadForm("pattern_missing")
    if len(pattern) > LONGEST_PATTERN:
        raise BadForm("pattern_too_long")
    try:
        compiled = _compile(pattern)
    except re2.error as error:
        problem = "pattern_too_large" if "too large" in str(error) else "pattern_wrong"
        raise BadForm(problem, _sentence(error)) from error
    names = set(compiled.groupindex)
    for name in sorted(names - set(PART_NAMES)):
        raise BadForm("part_unknown", name)
    if not names & {"serial", "mac"}:
        raise BadForm("part_missing")
    if any(compiled.fullmatch(text) for text in _ANY_TEXT):
        raise BadForm("part_unbounded")


# A form that takes all of these takes everything, links and standards' own forms included.
_ANY_TEXT = ("https://example.com/manual.pdf?page=2", "WIFI:T:WPA;S:roof;P:secret;;", "Lorem ipsum, dolor sit amet")


def _sentence(error: Exception) -> str:
    detail = error.args[0] if error.args else ""
    return detail.decode(errors="replace") if isinstance(detail, bytes) else str(detail)


def _facts(parts: dict[str, str]) -> dict[str, str] | None:
    """The parts as facts, or None where one of them cannot be what its name says."""
    for name, value in parts.items():
        try:
            check_plain_value(value, 0, name)
        except Refused:
            return None
    if "mac" in parts:
        mac = mac_of(parts["mac"]) or (parts["mac"].upper() if is_bare_mac(parts["mac"]) else None)
        if mac is None:
            return None
        parts["mac"] = mac
    if "gtin" in parts:
        if not (len(parts["gtin"]) in {8, 12, 13, 14} and has_check_digit(parts["gtin"])):
            return None
        parts["gtin"] = parts["gtin"].zfill(14)
    return parts if {"serial", "mac"} & parts.keys() else None
