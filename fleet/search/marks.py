"""Triggers that note which sites must be indexed again, whatever path a change took.

They only note; :func:`fleet.search.reindex` clears the note in the transaction of the change, and a sweep picks up what
was left by other paths (raw SQL, a bulk update, a crashed program).
"""

from dataclasses import dataclass

MARKS = "fleet_searchmark"
_VERBS = ("insert", "update", "delete")


@dataclass(frozen=True)
class Marks:
    """Marks for a table; see :class:`fleet.guards.Declared`.

    ``sites`` is a SELECT of the ids of the sites that a row touches, with ``{row}`` for the row. ``columns`` are those
    whose update matters.
    """

    table: str
    sites: str
    columns: tuple[str, ...]

    def names(self, vendor: str) -> tuple[str, ...]:
        """One trigger for each way to change a row."""
        return tuple(f"{self.table}_mark_{verb}" for verb in _VERBS)

    def statements(self, vendor: str) -> list[str]:
        """Create the triggers anew."""
        return self._sqlite() if vendor == "sqlite" else self._postgresql()

    def removal(self, vendor: str) -> list[str]:
        """Take the triggers away (for the bulk load of an empty installation)."""
        on = "" if vendor == "sqlite" else f" ON {self.table}"
        return [f"DROP TRIGGER IF EXISTS {name}{on}" for name in self.names(vendor)]

    def _touched(self, verb: str) -> str:
        old, new = self.sites.format(row="OLD"), self.sites.format(row="NEW")
        return {"insert": new, "update": f"{old} UNION {new}", "delete": old}[verb]

    def _event(self, verb: str) -> str:
        return f"UPDATE OF {', '.join(self.columns)}" if verb == "update" else verb.upper()

    def _sqlite(self) -> list[str]:
        statements = []
        for name, verb in zip(self.names("sqlite"), _VERBS, strict=True):
            # One mark is enough here, where writers are in line; on PostgreSQL another transaction may be clearing it.
            statements += [
                f"DROP TRIGGER IF EXISTS {name}",
                f"CREATE TRIGGER {name} AFTER {self._event(verb)} ON {self.table} BEGIN "
                f"INSERT INTO {MARKS} (site_id) SELECT site_id FROM ({self._touched(verb)}) AS touched "
                f"WHERE NOT EXISTS (SELECT 1 FROM {MARKS} AS mark WHERE mark.site_id = touched.site_id); END",
            ]
        return statements

    def _postgresql(self) -> list[str]:
        statements = []
        for name, verb in zip(self.names("postgresql"), _VERBS, strict=True):
            statements += [
                f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $mark$ "
                f"BEGIN INSERT INTO {MARKS} (site_id) {self._touched(verb)}; RETURN NULL; END $mark$",
                f"CREATE OR REPLACE TRIGGER {name} AFTER {self._event(verb)} ON {self.table} "
                f"FOR EACH ROW EXECUTE FUNCTION {name}()",
            ]
        return statements


def register_marks() -> list[Marks]:
    """The register's own, for ``settings.DATABASE_GUARDS``."""
    at_site = "SELECT {row}.site_id AS site_id"
    of_device = "SELECT site_id FROM fleet_placement WHERE device_id = {row}.id"
    of_model = (
        "SELECT placed.site_id FROM fleet_placement AS placed JOIN fleet_device AS unit ON unit.id = placed.device_id "
        "WHERE unit.model_id = {row}.id"
    )
    of_maker = (
        "SELECT placed.site_id FROM fleet_placement AS placed JOIN fleet_device AS unit ON unit.id = placed.device_id "
        "JOIN fleet_devicemodel AS model ON model.id = unit.model_id WHERE model.maker_id = {row}.id"
    )
    tagged = "SELECT site_id FROM fleet_site_tags WHERE tag_id = {row}.id"
    address = ("company_id", "code", "name", "street", "house_number", "postcode", "town", "region")
    listed = ("stage", "installed_kwp", "storage_kwh")
    return [
        Marks("fleet_site", "SELECT {row}.id AS site_id", (*address, *listed)),
        Marks("fleet_placement", at_site, ("site_id", "device_id", "until")),
        Marks("fleet_device", of_device, ("serial", "model_id", "mac", "part_number", "kind")),
        Marks("fleet_devicemodel", of_model, ("name", "maker_id")),
        Marks("fleet_maker", of_maker, ("name",)),
        Marks("fleet_tag", tagged, ("name",)),
        Marks("fleet_site_tags", at_site, ("site_id", "tag_id")),
        Marks("fleet_sitereference", at_site, ("site_id", "value")),
        Marks("fleet_sitecodealias", at_site, ("site_id", "code")),
    ]
