"""The owners' words by which a site is found."""

from collections import defaultdict

from fleet.search.words import Field, Shape, Word
from onboarding.models import Ownership


def owner_words(site_ids: list[int]) -> dict[int, list[Word]]:
    """Names, addresses and telephones of present owners, and the names of past ones."""
    words: dict[int, list[Word]] = defaultdict(list)
    for ownership in Ownership.objects.filter(site__in=site_ids).select_related("owner"):
        owner = ownership.owner
        if owner.erased_at is not None:
            continue
        past = ownership.until is not None
        words[ownership.site_id].append(Word(Field.OWNER, owner.name, past=past))
        if past:
            continue
        if owner.email:
            words[ownership.site_id].append(Word(Field.EMAIL, owner.email, Shape.EMAIL))
        if owner.phone:
            words[ownership.site_id].append(Word(Field.PHONE, owner.phone, Shape.PHONE))
    return dict(words)
