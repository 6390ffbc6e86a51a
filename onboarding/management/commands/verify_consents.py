"""``manage.py verify_consents``: whether any consent ledger was touched. Exit 1 names the entries, 2 a wrong key."""

from argparse import ArgumentParser
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError

from fleet.models import Company
from onboarding.queries.keys import ledger_fault
from onboarding.queries.ledger_check import Head, findings, ledger_head, was_at


class Command(BaseCommand):
    help = "Check every company's consent ledger for changed, removed, added or reordered entries."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--company", type=UUID, help="public id of one company; all of them without it")
        parser.add_argument("--head", action="store_true", help="print COMPANY COUNT:MAC of each ledger, to keep apart")
        parser.add_argument(
            "--expect",
            action="append",
            default=[],
            metavar="HEAD",
            help="a head printed earlier (COUNT:MAC with --company, or COMPANY=COUNT:MAC): it must still be there",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        companies = list(Company.objects.order_by("id"))
        if options["company"]:
            companies = [company for company in companies if company.public_id == options["company"]]
            if not companies:
                raise CommandError("There is no such company.")
        if options["head"]:
            for company in companies:
                self.stdout.write(f"{company.public_id}={ledger_head(company).written}")
            return
        if fault := ledger_fault():
            raise CommandError(fault, returncode=2)
        expected = _expected(options["expect"], companies)
        wrong = sum(self._check(company, expected.get(str(company.public_id), [])) for company in companies)
        if wrong:
            raise CommandError(f"{wrong} finding(s): a consent ledger was touched.", returncode=1)

    def _check(self, company: Company, heads: list[Head]) -> int:
        wrong = 0
        for found in findings(company):
            wrong += 1
            where = f"entry {found.entry} (position {found.position})" if found.entry else f"after {found.position}"
            self.stdout.write(f"{company.public_id} {where}: {found.what}")
        for head in heads:
            if not was_at(company, head):
                wrong += 1
                self.stdout.write(f"{company.public_id} the head {head.written} is not in the ledger any more")
        if not wrong:
            self.stdout.write(f"{company.public_id} whole: {ledger_head(company).count} entries")
        return wrong


def _expected(texts: list[str], companies: list[Company]) -> dict[str, list[Head]]:
    heads: dict[str, list[Head]] = {}
    for text in texts:
        name, _equals, written = text.rpartition("=")
        count, colon, mac = written.partition(":")
        if not colon or not count.isdigit():
            raise CommandError(f"--expect takes COUNT:MAC or COMPANY=COUNT:MAC, not “{text}”.")
        if not name and len(companies) != 1:
            raise CommandError("Several companies have ledgers: write COMPANY=COUNT:MAC, as --head prints it.")
        heads.setdefault(name or str(companies[0].public_id), []).append(Head(int(count), mac))
    known = {str(company.public_id) for company in companies}
    if strangers := set(heads) - known:
        raise CommandError(f"There is no company {', '.join(sorted(strangers))}.")
    return heads
