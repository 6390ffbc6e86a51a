"""The register's tables. Every row belongs to a company; outside they are known by public id or site code."""

from fleet.models.access import ApiToken, IdempotencyRecord, MemberInvitation, Scope
from fleet.models.audit import AuditDetail, AuditEntry
from fleet.models.catalogue import DeviceModel, Kind, Maker, MakerSpelling, ModelNumber
from fleet.models.company import Assignment, Company, CompanyPolicy, Member, Role
from fleet.models.device import Device, ExpectedDevice, InstalledFirmware, NoneExpected, Placement
from fleet.models.field import FieldRecord
from fleet.models.files import StoredFile
from fleet.models.labels import LabelForm, LinkDomain
from fleet.models.people import User
from fleet.models.plates import PrintedPlate
from fleet.models.scan import Outcome, Scan, UnitDoubt
from fleet.models.search import SearchDocument, SearchMark, SearchRebuild
from fleet.models.site import (
    HandoverCheck,
    Site,
    SiteCodeAlias,
    SiteReference,
    SiteSighting,
    SiteSummary,
    Stage,
    Tag,
)

__all__ = [
    "ApiToken",
    "Assignment",
    "AuditDetail",
    "AuditEntry",
    "Company",
    "CompanyPolicy",
    "Device",
    "DeviceModel",
    "ExpectedDevice",
    "FieldRecord",
    "HandoverCheck",
    "IdempotencyRecord",
    "InstalledFirmware",
    "Kind",
    "LabelForm",
    "LinkDomain",
    "Maker",
    "MakerSpelling",
    "Member",
    "MemberInvitation",
    "ModelNumber",
    "NoneExpected",
    "Outcome",
    "Placement",
    "PrintedPlate",
    "Role",
    "Scan",
    "Scope",
    "SearchDocument",
    "SearchMark",
    "SearchRebuild",
    "Site",
    "SiteCodeAlias",
    "SiteReference",
    "SiteSighting",
    "SiteSummary",
    "Stage",
    "StoredFile",
    "Tag",
    "UnitDoubt",
    "User",
]
