"""Whether a password that somebody chose can be used, the same at every door.

After NIST SP 800-63B-4 section 3.1.1 (read from memory):
15 characters where it is the only factor, 8 where a second factor stands; long ones are allowed (here up to 256), paste
is allowed, there are no composition rules; a blocklist and words of the context are refused. The same rules, without
the long blocklist, run in the page's meter.
"""

import re
from collections.abc import Iterable
from itertools import pairwise

from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.module_loading import import_string
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, User
from fleet.models.people import LONG_ENOUGH_ALONE
from fleet.search.fold import folded_with_places, joined, pieces

SHORTEST = LONG_ENOUGH_ALONE
SHORTEST_WITH_SECOND_FACTOR = 8
LONGEST = 256
SHORTEST_CONTEXT_WORD = 4
LEAST_BESIDE_CONTEXT = 8
LEAST_DIFFERENT = 5
SERVICE_WORDS = ("rooftally",)


def password_problems(password: str, *, words: Iterable[str] = (), second_factor: bool = False) -> list[str | Promise]:
    """What is wrong with ``password``, one sentence each; an empty list when it can be used.

    ``words`` are texts of the context (names, company, street): a password that is little more than them is refused.
    Spaces inside count; nothing is trimmed.
    """
    shortest = SHORTEST_WITH_SECOND_FACTOR if second_factor else SHORTEST
    if len(password) < shortest:
        return [_("Use at least %(count)d characters; a few words in a row work well.") % {"count": shortest}]
    if len(password) > LONGEST:
        return [_("Use at most %(count)d characters.") % {"count": LONGEST}]
    if _monotonous(password) or _listed(password):
        return [_("This one is among the first that a stranger would try. Choose other words.")]
    if _little_beside(password, words):
        return [_("This is little more than your name, address or the company's. Add words that nobody would guess.")]
    return []


class LongPasswordValidator:
    """The same rules for every form that sets a password (Django's validator protocol)."""

    def validate(self, password: str, user: object | None = None) -> None:
        """Raise ValidationError with each problem."""
        words = words_about(user) if isinstance(user, User) else []
        problems = password_problems(password, words=words, second_factor=has_second_factor(user))
        if problems:
            raise ValidationError([ValidationError(str(problem), code="weak_password") for problem in problems])

    def get_help_text(self) -> str:
        """What the form says beside the field."""
        return str(_("At least 15 characters, or 8 with a second factor. Any characters; a few words are fine."))


def words_about(user: User) -> list[str]:
    """What a stranger who knows ``user`` would try first: their names, the companies they work for, and what else of
    them the house knows (``PASSWORD_CONTEXTS``).
    """
    words = [user.name, user.email]
    if user._state.adding:
        return words
    words += Member.objects.filter(user=user).values_list("company__name", flat=True)
    return [*words, *(word for name in settings.PASSWORD_CONTEXTS for word in import_string(name)(user))]


def note_length(user: User, password: str) -> None:
    """``user`` has proven ``password``: whether it is short is known from now on, where it was set before that was."""
    short = len(password) < SHORTEST
    if user.short_password != short:
        User.objects.filter(pk=user.pk).update(short_password=short)
        user.short_password = short


def has_second_factor(user: object | None) -> bool:
    """Whether ``user`` is a saved user who set up a second factor."""
    from allauth.mfa.utils import is_mfa_enabled

    return isinstance(user, AbstractBaseUser) and not user._state.adding and bool(is_mfa_enabled(user))


def _listed(password: str) -> bool:
    blocklist = CommonPasswordValidator().passwords
    folded = password.casefold().strip()
    candidates = {folded, re.sub(r"[^a-z]+$", "", folded), re.sub(r"^[^a-z]+|[^a-z]+$", "", folded)}
    half = len(folded) // 2
    if len(folded) % 2 == 0 and folded[:half] == folded[half:]:
        candidates.add(folded[:half])
    return any(candidate in blocklist for candidate in candidates)


def _monotonous(password: str) -> bool:
    """One short piece over and over, a run along the alphabet or digits, or hardly any different characters."""
    if len(set(password)) < LEAST_DIFFERENT or re.fullmatch(r"(.{1,4})\1+.{0,3}", password, flags=re.DOTALL):
        return True
    steps = {ord(after) - ord(before) for before, after in pairwise(password.casefold())}
    return steps <= {1, -9} or steps <= {-1, 9}  # 1234567890123… wraps from 9 to 0


def _little_beside(password: str, words: Iterable[str]) -> bool:
    """Whether words of the context are in the password and little else: fewer than eight letters, digits and different
    other signs. A password without any of these words is not about them, whatever it is made of.
    """
    covered = _covered(password, words)
    rest = [character for place, character in enumerate(password) if place not in covered and not character.isspace()]
    told = sum(character.isalnum() for character in rest)
    return bool(covered) and told + len({each for each in rest if not each.isalnum()}) < LEAST_BESIDE_CONTEXT


def _covered(password: str, words: Iterable[str]) -> set[int]:
    """The places of ``password`` that words of the context take up, whatever stands between their letters."""
    folded, places = folded_with_places(password)
    letters = [(character, place) for character, place in zip(folded, places, strict=True) if character.isalnum()]
    text = "".join(character for character, _place in letters)
    covered: set[int] = set()
    for word in sorted({piece for each in (*words, *SERVICE_WORDS) for piece in _pieces(each)}, key=len, reverse=True):
        at = text.find(word)
        while at >= 0:
            covered |= {place for _letter, place in letters[at : at + len(word)]}
            text = text[:at] + "\0" * len(word) + text[at + len(word) :]
            at = text.find(word)
    return covered


def _pieces(text: str) -> set[str]:
    return {piece for piece in [*pieces(text), joined(text)] if len(piece) >= SHORTEST_CONTEXT_WORD}
