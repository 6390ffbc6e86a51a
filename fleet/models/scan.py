"""One captured label: who, when, where, and what came of it. Never edited."""

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.company import Company, Member
from fleet.models.device import Device, Placement
from fleet.models.site import Site


class Outcome(models.TextChoices):
    """What came of a scan."""

    LINKED = "linked", _("Linked")
    ALREADY_HERE = "already_here", _("Already here")
    ELSEWHERE = "elsewhere", _("Stands elsewhere")
    CONFIRM = "confirm", _("Needs your eye")
    REFUSED = "refused", _("Refused")


class Scan(models.Model):
    """A scan is told apart by its client UUID within a company; the same UUID with other content is refused.

    ``fingerprint`` is the SHA-256 over the record's content (id, seq, installation, user, site, raw, format, source,
    scanned_at). ``payload`` is empty for refused families: ``payload_class``, ``payload_length`` and ``payload_mac``
    (a keyed hash) are then all that is kept. ``reading`` is the decoder's account of what it understood; ``answer`` is
    what the client was told, word for word. ``scanned_at`` is by the server's clock; where ``skew`` is known, the
    reader's own clock said ``scanned_at - skew``.
    """

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="scans")
    client_id = models.UUIDField()
    fingerprint = models.CharField(max_length=64)
    kind = models.CharField(max_length=8, default="scan")
    seq = models.BigIntegerField(default=0)
    installation = models.UUIDField(null=True, blank=True)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    member = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="scans")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="scans")
    payload = models.TextField(blank=True)
    symbology = models.CharField(max_length=12, blank=True)
    source = models.CharField(max_length=12)
    payload_class = models.CharField(max_length=24, blank=True)
    payload_length = models.PositiveIntegerField(default=0)
    payload_mac = models.CharField(max_length=64, blank=True)
    scanned_at = models.DateTimeField()
    skew = models.DurationField(null=True, blank=True)
    received_at = models.DateTimeField(default=timezone.now)
    outcome = models.CharField(max_length=12, choices=Outcome)
    reason = models.CharField(max_length=24, blank=True)
    reading = models.JSONField(default=dict)
    answer = models.JSONField(default=dict)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.PROTECT, related_name="scans")
    placement = models.ForeignKey(Placement, null=True, blank=True, on_delete=models.PROTECT, related_name="scans")
    from_emergency_file = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["company", "client_id"], name="scan_client_id_once")]
        indexes = [
            models.Index(fields=["site", "-scanned_at"], name="scan_by_site"),
            models.Index(fields=["member", "-received_at"], name="scan_by_member"),
        ]

    def __str__(self) -> str:
        return f"scan {self.client_id}"


class UnitDoubt(models.Model):
    """A scan that was answered as a known unit although its label says otherwise: perhaps a second unit.

    Found once, when devices began to be told apart by what their serial is numbered within; a person settles each.
    """

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="+")
    scan = models.OneToOneField(Scan, on_delete=models.CASCADE, related_name="doubt")
    noted_at = models.DateTimeField(default=timezone.now)
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["company", "scan"], condition=models.Q(settled_at__isnull=True), name="doubt_open")
        ]

    def __str__(self) -> str:
        return f"doubt about scan {self.scan_id}"
