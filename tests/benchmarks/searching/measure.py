"""One run on one loaded database: ``python -m tests.benchmarks.searching.measure OUT.json`` with its settings set."""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

import django

django.setup()

from django.conf import settings  # noqa: E402  # settings come first
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402

from fleet.models import Assignment, Company, Member, Role, Site, User  # noqa: E402
from fleet.search import find_sites, reindex  # noqa: E402
from fleet.search.filters import NO_FILTERS  # noqa: E402
from fleet.search.fold import fold  # noqa: E402
from fleet.search.query import Search  # noqa: E402
from fleet.search.statements import Statement  # noqa: E402
from onboarding.models import Owner  # noqa: E402
from tests.benchmarks.searching.kinds import UNIQUE_ENOUGH  # noqa: E402
from tests.benchmarks.searching.others import Tantivy, naive  # noqa: E402
from tests.benchmarks.searching.questions import Question, questions_for  # noqa: E402
from tests.benchmarks.searching.stopwatch import database_time  # noqa: E402

Times = dict[str, list[float]]
TRIES, ROUNDS = 3, 3
LISTED_AT_MOST = 1000


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("out", type=Path)
    options.add_argument("--each", type=int, default=30)
    options.add_argument("--naive-each", type=int, default=8)
    options.add_argument("--tantivy", type=Path)
    chosen = options.parse_args()
    company = Company.objects.order_by("pk")[0]
    member = Member.objects.filter(company=company, role=Role.ADMINISTRATOR).select_related("company__policy", "user")[
        0
    ]
    asked = questions_for(company, chosen.each)
    report: dict[str, Any] = {"vendor": connection.vendor, "sites": Site.objects.count()}
    report["companies"] = Company.objects.count()
    for question in asked:
        find_sites(member=member, text=question.text)
    few = _few(asked, chosen.naive_each)
    if few:
        naive(company, "warm")
    for_field = [question for question in asked if question.kind in ("surname", "typo", "words", "common")]
    rounds = ROUNDS if report["sites"] <= 200_000 else 1
    report |= _in_rounds(
        {
            "ours": Side(asked, lambda question: find_sites(member=member, text=question.text)),
            "ids": Side(asked, lambda question: _ids_only(member, question.text)),
            "nothing": Side(asked[::10], lambda question: _ask_nothing()),
            "field": Side(for_field, _as_field(company, member)),
            "naive": Side(few, lambda question: naive(company, question.text), rounds, 1),
            "naive_page": Side(few, lambda question: naive(company, question.text, counted=False), rounds, 1),
        }
    )
    report["recall"] = _recall(asked, member)
    report["foreign_rows"] = _foreign_rows(asked, member)
    report["naive_recall"] = _naive_recall(few, company)
    report["requests"] = _requests(asked, member.user)
    report["update"] = _updates(company)
    if chosen.tantivy:
        report["tantivy"] = _tantivy(chosen.tantivy, asked, company)
    chosen.out.write_text(json.dumps(report, indent=1))


@dataclass(frozen=True)
class Side:
    """What is asked of one side, in how many rounds, and how often in each."""

    asked: list[Question]
    ask: Callable[[Question], Any]
    rounds: int = ROUNDS
    tries: int = TRIES


def _in_rounds(sides: dict[str, Side]) -> dict[str, Times]:
    """The least time of each question: what else runs on the machine is not what is measured. The sides take turns, so
    that a machine that is slow for a while is so for all of them, and each is asked again after it.
    """
    least = {name: [float("inf")] * len(side.asked) for name, side in sides.items()}
    for number in range(ROUNDS):
        for name, side in sides.items():
            for at, question in enumerate(side.asked if number < side.rounds else []):
                least[name][at] = min(least[name][at], *(_time_of(side.ask, question) for _ in range(side.tries)))
    times: dict[str, Times] = {name: defaultdict(list) for name in sides}
    for name, side in sides.items():
        for question, taken in zip(side.asked, least[name], strict=True):
            times[name][question.kind].append(taken)
    return times


def _time_of(ask: Callable[[Question], Any], question: Question) -> float:
    with database_time() as watch:
        ask(question)
    return watch.milliseconds


def _ask_nothing() -> None:
    """Going to the database and back: how much of each time is that, and how slow the machine is just now."""
    Statement("SELECT 1", []).run()


def _ids_only(member: Member, text: str) -> None:
    Search.by(member, NO_FILTERS).of(text, 25)


def _as_field(company: Company, member: Member) -> Callable[[Question], Any]:
    """A field member who sees forty sites."""
    user, _made = User.objects.get_or_create(email="roof@example.org")
    field, _made = Member.objects.get_or_create(company=company, user=user, defaults={"role": Role.FIELD})
    sites = Site.objects.filter(company=company).order_by("pk")[:40]
    Assignment.objects.bulk_create(
        [Assignment(company=company, member=field, site=site) for site in sites], ignore_conflicts=True
    )
    field = Member.objects.select_related("company__policy").get(pk=field.pk)
    return lambda question: find_sites(member=field, text=question.text)


def _few(asked: list[Question], each: int) -> list[Question]:
    taken: dict[str, int] = defaultdict(int)
    few = []
    for question in asked:
        taken[question.kind] += 1
        if taken[question.kind] <= each:
            few.append(question)
    return few


def _recall(asked: list[Question], member: Member) -> dict[str, float]:
    found: dict[str, list[bool]] = defaultdict(list)
    for question in asked:
        if question.kind in UNIQUE_ENOUGH:
            listed = {row.site_id for row in find_sites(member=member, text=question.text, limit=LISTED_AT_MOST).rows}
            is_full = len(listed) == LISTED_AT_MOST
            found[question.kind].append(question.site_id in listed or (is_full and _is_mended(member, question)))
    return {kind: sum(each) / len(each) for kind, each in found.items()}


def _is_mended(member: Member, question: Question) -> bool:
    """Whether what a text with a slip was meant to be is among the words that are looked for instead of it."""
    instead = Search.by(member, NO_FILTERS).of(question.text, LISTED_AT_MOST).corrected
    return instead is not None and "w" + fold(question.meant) in {each.start for each in instead.ranges}


def _foreign_rows(asked: list[Question], member: Member) -> int:
    ids = {row.site_id for question in asked for row in find_sites(member=member, text=question.text).rows}
    return Site.objects.filter(pk__in=ids).exclude(company_id=member.company_id).count()


def _naive_recall(asked: list[Question], company: Company) -> dict[str, float]:
    """Whether the naive first page holds the site meant, or (being full) might hold it on a later one."""
    found: dict[str, list[bool]] = defaultdict(list)
    for question in asked:
        if question.kind in UNIQUE_ENOUGH:
            ids = naive(company, question.text)
            found[question.kind].append(question.site_id in ids or len(ids) == 25)
    return {kind: sum(each) / len(each) for kind, each in found.items()}


def _requests(asked: list[Question], user: User) -> dict[str, Any]:
    """The whole request in process: the search box's own answer, and the same page asked for nothing."""
    settings.ALLOWED_HOSTS = ["*"]
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    client.get("/search")
    empty: list[float] = []
    full: Times = defaultdict(list)
    for question in asked:  # turn by turn
        pairs = [(_request(client, ""), _request(client, question.text)) for _ in range(TRIES)]
        empty.append(min(pair[0] for pair in pairs))
        full[question.kind].append(min(pair[1] for pair in pairs))
    return {"empty": empty, "search": dict(full)}


def _request(client: Client, text: str) -> float:
    started = perf_counter()
    response = client.get("/search", {"q": text}, headers={"HX-Request": "true"})
    taken = (perf_counter() - started) * 1000
    if response.status_code != 200:
        raise RuntimeError(f"/search answered {response.status_code}")
    return taken


def _updates(company: Company) -> list[float]:
    """Indexing one site after its owner's name changed, at the end of the same transaction; all of it is kept. Every
    change takes words away and brings others.
    """
    sites = list(Site.objects.filter(company=company).order_by("pk")[:40])
    times = [float("inf")] * len(sites)
    for name in ("Abel Outono", "Bia Inverno", "Caio Verão", "Dora Maio", "Elio Junho", "Fábia Abril", "Gil Agosto"):
        for number, site in enumerate(sites):
            with transaction.atomic():
                Owner.objects.filter(ownerships__site=site).update(name=f"{name} {number}")
                with database_time() as watch:
                    reindex([site.pk])
            times[number] = min(times[number], watch.milliseconds)
    return times


def _tantivy(folder: Path, asked: list[Question], company: Company) -> dict[str, Any]:
    started = perf_counter()
    index = Tantivy(folder)
    built = perf_counter() - started
    times: Times = defaultdict(list)
    found: dict[str, list[bool]] = defaultdict(list)
    for question in asked:
        query = index.query(company, question.text, question.kind)
        tries = []
        for _ in range(TRIES):
            started = perf_counter()
            index.search(query)
            tries.append((perf_counter() - started) * 1000)
        times[question.kind].append(min(tries))
        if question.kind in UNIQUE_ENOUGH:
            found[question.kind].append(question.site_id in index.search(query, 1000))
    recall = {kind: sum(each) / len(each) for kind, each in found.items()}
    return {"times": dict(times), "recall": recall, "built_in_seconds": built}


if __name__ == "__main__":
    main()
