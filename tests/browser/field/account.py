"""The account that a phone and the register must give of the same records. Broken senders are caught by this alone."""

from typing import Any
from uuid import UUID

from fleet.models import Device, Placement, Scan, Site

DONE = {"linked", "already_here"}


def faults(records: list[dict[str, Any]], site: Site, expected: int) -> list[str]:
    """What does not agree, in words: lost, doubled, out of order, or called done by the phone alone. Empty is good."""
    scans = {scan.client_id: scan for scan in Scan.objects.filter(site=site)}
    arrived = list(Scan.objects.filter(site=site).order_by("pk").values_list("seq", flat=True))
    found = []
    if len(records) != expected:
        found.append(f"the phone holds {len(records)} records, not {expected}")
    for record in records:
        scan = scans.pop(UUID(record["id"]), None)
        if record["state"] == "waiting":
            found.append(f"record {record['seq']} still waits")
        elif scan is None:
            found.append(f"record {record['seq']} is {record['state']} on the phone, and the register never got it")
        elif scan.outcome != record["state"]:
            found.append(f"record {record['seq']} is {record['state']} on the phone and {scan.outcome} in the register")
        elif record["state"] not in DONE:
            found.append(f"record {record['seq']} is {record['state']}: {record['result'].get('why')}")
    found += [f"the register has a scan that the phone does not know ({scan.seq})" for scan in scans.values()]
    if arrived != sorted(arrived):
        found.append(f"the register got them in the order {arrived}")
    placements = Placement.objects.filter(site=site, until__isnull=True).count()
    if (placements, Device.objects.filter(company=site.company).count()) != (expected, expected):
        found.append(f"{placements} devices stand at the site, not {expected}")
    return found
