"""The consent ledger: wordings, append-only entries chained by HMAC, and the standing they amount to."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, Member, Site
from onboarding.models.owner import Owner


class Purpose(models.TextChoices):
    """One thing an owner may allow; each is asked, recorded and withdrawn alone."""

    MONITORING = "monitoring", _("Processing the site's measurements")
    HOME_NETWORK = "home_network", _("Joining the system to the home network")
    CONTACT = "contact", _("Writing to the owner about this site")


class ConsentState(models.TextChoices):
    """What one entry says."""

    REQUESTED = "requested", _("Asked")
    GIVEN = "given", _("Given")
    REFUSED = "refused", _("Refused")
    WITHDRAWN = "withdrawn", _("Withdrawn by the owner")
    REVOKED = "revoked", _("Revoked by another")
    EXPIRED = "expired", _("Expired")
    INVALIDATED = "invalidated", _("Invalidated")
    RENEWED = "renewed", _("Renewed")


class Evidence(models.TextChoices):
    """What an entry rests on. What staff or another owner report is weak and permits the invitation only; so is what
    was answered with a letter's code, which whoever printed the letter could type too.
    """

    OWNER_ONLINE = "owner_online", _("The owner, signed in or by their own link")
    SIGNATURE = "signature", _("Signed on the phone")
    PAPER_REFERENCE = "paper_reference", _("On paper, with a reference")
    LETTER = "letter", _("With the code of a printed letter")
    STAFF_STATEMENT = "staff_statement", _("Reported by staff")
    CO_OWNER = "co_owner", _("Reported by another owner of the site")


class Wording(models.Model):
    """One numbered version of the text for a purpose in a language; never edited once used.

    ``particulars`` holds what ISO/IEC TS 27560 asks of a notice: controller, recipients, data types, storage place,
    retention, jurisdiction and how to withdraw.
    """

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="wordings")
    purpose = models.CharField(max_length=14, choices=Purpose)
    language = models.CharField(max_length=10)
    version = models.PositiveIntegerField()
    text = models.TextField()
    particulars = models.JSONField(default=dict)
    sha256 = models.CharField(max_length=64)
    published_at = models.DateTimeField(default=timezone.now)
    written_by = models.ForeignKey(Member, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["company", "purpose", "language", "version"], name="wording_version_once")
        ]

    def __str__(self) -> str:
        return f"{self.purpose} {self.language} v{self.version}"


class ConsentEntry(models.Model):
    """One line of a company's ledger. Append-only; ``canonical`` is the RFC 8785 JSON that ``mac`` is computed over.

    ``mac`` = HMAC-SHA-256(ledger key, previous_mac + canonical), hexadecimal. Personal values stand in ConsentDetail,
    of which the entry holds a salted commitment.
    """

    entry_id = models.UUIDField(default=uuid.uuid4, editable=False)
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="consent_entries")
    position = models.PositiveBigIntegerField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="consent_entries")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="consent_entries")
    purpose = models.CharField(max_length=14, choices=Purpose)
    state = models.CharField(max_length=12, choices=ConsentState)
    evidence = models.CharField(max_length=16, choices=Evidence)
    at = models.DateTimeField()
    wording = models.ForeignKey(Wording, null=True, blank=True, on_delete=models.PROTECT, related_name="entries")
    recorded_by = models.ForeignKey(Member, null=True, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    canonical = models.TextField()
    previous_mac = models.CharField(max_length=64, blank=True)
    mac = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["company", "position"], name="consent_position_once"),
            models.UniqueConstraint(fields=["company", "entry_id"], name="consent_entry_once"),
            models.CheckConstraint(condition=Q(purpose__in=Purpose.values), name="consent_purpose_known"),
            models.CheckConstraint(condition=Q(state__in=ConsentState.values), name="consent_state_known"),
        ]
        indexes = [models.Index(fields=["site", "owner", "purpose", "-position"], name="consent_by_site")]

    def __str__(self) -> str:
        return f"consent {self.entry_id}"


class ConsentDetail(models.Model):
    """The erasable personal part of an entry: names, address, IP, session, free text, reference.

    ``values`` is ``{field: [salt, value]}``; ``erased`` lists the fields whose pair was taken out.
    """

    entry = models.OneToOneField(ConsentEntry, primary_key=True, on_delete=models.CASCADE, related_name="detail")
    values = models.JSONField(default=dict)
    erased = models.JSONField(default=list)
    erased_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"detail of {self.entry_id}"


class LedgerHead(models.Model):
    """The locked row that puts a company's ledger writers in line."""

    company = models.OneToOneField(Company, primary_key=True, on_delete=models.CASCADE, related_name="ledger_head")
    count = models.PositiveBigIntegerField(default=0)
    last_mac = models.CharField(max_length=64, blank=True)

    def __str__(self) -> str:
        return f"ledger head of {self.company_id}"


class ConsentStanding(models.Model):
    """What the ledger amounts to now for a site, owner and purpose; written with each entry in its transaction.

    ``strong`` says whether the standing rests on more than what others report; ``ends_at`` is when a yes runs out.
    """

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="consent_standings")
    owner = models.ForeignKey(Owner, on_delete=models.CASCADE, related_name="consent_standings")
    purpose = models.CharField(max_length=14, choices=Purpose)
    state = models.CharField(max_length=12, choices=ConsentState)
    strong = models.BooleanField(default=False)
    entry = models.ForeignKey(ConsentEntry, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "owner", "purpose"], name="standing_once")]
        indexes = [models.Index(fields=["ends_at"], name="standing_by_end")]

    def __str__(self) -> str:
        return f"standing {self.pk}"


class EndNotice(models.Model):
    """An owner was told, or was to be told, that one answer of theirs ends; once for an answer and a reason.

    ``delivery`` is the mail that told it, None where the owner may not be written to: then the office asks.
    """

    class Reason(models.TextChoices):
        TIME = "time", _("Its time is nearly over")
        WORDING = "wording", _("The text has a newer version")

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    entry = models.ForeignKey(ConsentEntry, on_delete=models.CASCADE, related_name="end_notices")
    reason = models.CharField(max_length=8, choices=Reason)
    delivery = models.ForeignKey("Delivery", null=True, on_delete=models.SET_NULL, related_name="end_notices")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["entry", "reason"], name="end_notice_once")]

    def __str__(self) -> str:
        return f"end notice {self.pk}"
