"""Starts a company with its first administrator: the operator's act."""

import secrets
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.acting import origin
from fleet.models import User
from fleet.operations.companies import create_company
from fleet.operations.refusals import ActRefused
from fleet.operations.starter_lists import STARTER_LISTS


class Command(BaseCommand):
    help = "Starts a company with its first administrator, whose password is printed once where the address is new."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the company's name")
        parser.add_argument("--admin", required=True, metavar="EMAIL", help="the first administrator's address")
        parser.add_argument("--admin-name", default="", help="the first administrator's name")
        lists = "; ".join(f"{name}: {words}" for name, words in STARTER_LISTS.items())
        parser.add_argument(
            "--starter-list",
            default="",
            choices=["", *STARTER_LISTS],
            help=f"what the catalogue begins with; it is empty otherwise ({lists})",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        known = User.objects.filter(email__iexact=options["admin"].strip()).exists()
        password = None if known else secrets.token_urlsafe(15)
        try:
            with origin("create_company"):
                company, member = create_company(
                    name=options["name"],
                    admin_email=options["admin"],
                    admin_name=options["admin_name"],
                    password=password,
                    starter_list=options["starter_list"],
                )
        except ActRefused as refusal:
            raise CommandError(str(refusal.sentence)) from refusal
        self.stdout.write(f"{company.name} is there; {member.user.email} administers it.")
        if password:
            self.stdout.write(f"Password, shown this once: {password}")
        else:
            self.stdout.write("That address has an account already: its password stays as it is.")
