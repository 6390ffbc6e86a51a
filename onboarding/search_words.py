"""The owners' words by which a site is found."""

from collections import defaultdict

from fleet.search.words import Field, Shape, Word
from onboarding.models import Ownership


def owner_words(site_ids: list[int]) -> dict[int, list[Word]]:
    """Names, addresses and telephones of present owners, and the names of past ones."""
    words: dict[int, list[Word]] = defaultdict(list)
    standing = Ownership.objects.filter(site__in=site_ids, owner__erased_at__isnull=True)
    columns = ("site_id", "until", "owner__name", "owner__email", "owner__phone")
    for site_id, until, name, email, phone in standing.values_list(*columns):
        past = until is not None
        words[site_id].append(Word(Field.OWNER, name, past=past))
        if past:
            continue
        if email:
            words[site_id].append(Word(Field.EMAIL, email, Shape.EMAIL))
        if phone:
            words[site_id].append(Word(Field.PHONE, phone, Shape.PHONE))
    return dict(words)
