"""An invented fleet of any size, the same for the same company number: sites, devices, placements and owners."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from random import Random

from django.db import transaction

from fleet.labels.nearmiss import folded
from fleet.labels.sitecode import new_site_code
from fleet.models import Company, Device, DeviceModel, Kind, Placement, Site, SiteReference, Stage
from onboarding.management.synthetic.bulk import CHUNK, Bulk, Value, keys_go_on_after, plain
from onboarding.management.synthetic.names import a_person, a_place
from onboarding.models import Owner, Ownership

FIRST_DAY = date(2016, 1, 4)
DAYS = 3800
SETS = (  # what stands together, by kind, and how often of 100
    (60, (Kind.INVERTER, Kind.BATTERY, Kind.METER, Kind.COMMUNICATION, Kind.BACKUP_SWITCH)),
    (20, (Kind.INVERTER, Kind.BATTERY, Kind.METER, Kind.COMMUNICATION, Kind.CHARGE_POINT)),
    (10, (Kind.INVERTER, Kind.INVERTER, Kind.BATTERY, Kind.METER, Kind.COMMUNICATION)),
    (10, (Kind.INVERTER, Kind.METER, Kind.OPTIMISER, Kind.OPTIMISER, Kind.COMMUNICATION)),
)
USES = ("home",) * 16 + ("business", "business", "farm", "flats")
Tell = Callable[[int], None]


class Fleet:
    """Writes ``sites`` sites for one company, five devices and one owner each."""

    def __init__(self, company: Company, *, seed: int, taken: set[str]) -> None:
        self._company = company
        self._random = Random(seed)  # noqa: S311  # invented data
        self._taken = taken
        self._number = seed * 10_000_000
        self._uuids = self._number * 16
        self._models = _models_by_kind(company)
        company_id = {"company_id": company.pk}
        self._sites = Bulk(Site, SITE_COLUMNS, **company_id, time_zone="Europe/Lisbon")
        self._devices = Bulk(Device, DEVICE_COLUMNS, **company_id, issuer_scheme="gs1-gtin")
        self._placements = Bulk(Placement, PLACEMENT_COLUMNS, **company_id)
        self._owners = Bulk(Owner, OWNER_COLUMNS, **company_id, language="pt")
        self._ownerships = Bulk(Ownership, ("site_id", "owner_id", "since"), **company_id)
        self._references = Bulk(SiteReference, ("site_id", "kind", "value"), **company_id)
        self._tables = (
            self._sites, self._devices, self._placements, self._owners, self._ownerships, self._references,
        )  # fmt: skip

    def load(self, sites: int, tell: Tell = lambda done: None) -> None:
        """Write them, chunk by chunk, each in a transaction of its own; ``tell`` hears how many are done."""
        done = 0
        while done < sites:
            part = min(CHUNK, sites - done)
            with transaction.atomic():
                for _ in range(part):
                    self._add_site()
                for table in self._tables:
                    table.write()
            done += part
            tell(done)
        keys_go_on_after([Site, Device, Placement, Owner, Ownership, SiteReference])

    def _add_site(self) -> None:
        random = self._random
        self._number += 1
        place = a_place(random)
        day = FIRST_DAY + timedelta(days=int(random.random() * DAYS))
        moment = plain(datetime(day.year, day.month, day.day, 9, int(random.random() * 60), tzinfo=UTC))
        kwp = 3 + int(random.random() * 24) / 2
        stage = Stage.HANDED_OVER if random.random() < 0.7 else Stage.INSTALLED
        site = self._sites.add(
            self._code(), place.street, place.number, place.postcode, place.town, place.region, place.latitude,
            place.longitude, random.choice(USES), f"{kwp}", f"{7 if kwp < 8 else 14}", f"{kwp * 0.9:.1f}",
            1 if kwp < 7 else 3, stage, moment if stage == Stage.HANDED_OVER else None, day.isoformat(), moment, moment,
        )  # fmt: skip
        self._add_owner(site, moment)
        self._references.add(site, "order", f"A{self._number:08d}")
        chosen, among = random.random() * 100, 0
        for share, kinds in SETS:
            among += share
            if chosen < among:
                for slot, kind in enumerate(kinds):
                    self._add_device(site, kind, day, moment, slot, kinds.count(Kind.INVERTER))
                return

    def _add_device(self, site: int, kind: str, day: date, moment: Value, slot: int, inverters: int) -> None:
        models = self._models[kind]
        model, gtin = models[int(self._random.random() * len(models))]
        made = day - timedelta(days=20 + int(self._random.random() * 90))
        year, week, _ = made.isocalendar()
        serial = f"{gtin[7:10]}{year % 100:02d}{week:02d}{self._number % 10_000_000:07d}{slot}"
        device = self._devices.add(
            self._uuid(), model, kind, gtin, serial, folded(serial), gtin, made.isoformat(), moment
        )
        role = "" if inverters < 2 or kind != Kind.INVERTER else ("leads" if slot == 0 else "follows")
        self._placements.add(self._uuid(), device, site, moment, role)

    def _add_owner(self, site: int, moment: Value) -> None:
        person = a_person(self._random, self._number)
        kind = "organisation" if person.organisation else "person"
        owner = self._owners.add(self._uuid(), kind, person.name, person.email, person.phone, moment)
        self._ownerships.add(site, owner, moment)

    def _code(self) -> str:
        while (code := new_site_code(self._random)) in self._taken:
            pass
        self._taken.add(code)
        return code

    def _uuid(self) -> str:
        self._uuids += 1  # in order, so that the index on them grows at its end
        return f"{self._uuids:016x}{self._random.getrandbits(64):016x}"


SITE_COLUMNS = (
    "code", "street", "house_number", "postcode", "town", "region", "latitude", "longitude", "use", "installed_kwp",
    "storage_kwh", "inverter_ac_kw", "phases", "stage", "handed_over_at", "installed_on", "created_at", "updated_at",
)  # fmt: skip
DEVICE_COLUMNS = (
    "public_id", "model_id", "kind", "issuer", "serial", "serial_folded", "gtin", "produced_on", "created_at",
)  # fmt: skip
PLACEMENT_COLUMNS = ("public_id", "device_id", "site_id", "since", "bus_role")
OWNER_COLUMNS = ("public_id", "kind", "name", "email", "phone", "created_at")


def _models_by_kind(company: Company) -> dict[str, list[tuple[int, str]]]:
    found: dict[str, list[tuple[int, str]]] = {}
    for model in DeviceModel.objects.filter(company=company).exclude(gtin="").order_by("pk"):
        found.setdefault(model.kind, []).append((model.pk, model.gtin))
    return found
