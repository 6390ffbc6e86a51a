"""What other packages show on a site's page and ask before it is handed over.

They name functions in settings.SITE_PANELS and settings.HANDOVER_POINTS.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.module_loading import import_string

from fleet.models import Site

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


@dataclass(frozen=True, slots=True)
class Panel:
    """One part of a site's page: a template, rendered with ``context``, ``site``, ``member`` and ``request``.

    ``order`` puts panels in line: what stands there is 10, who owns it 20, what they allowed 30, what is still to do
    40. Up to 39 they stand in the narrow column. ``across`` panels take the full width, above the columns or below
    them.
    """

    template: str
    context: dict[str, Any] = field(default_factory=dict)
    order: int = 50
    across: bool = False


PanelSource = Callable[[HttpRequest, Site], list[Panel]]


@dataclass(frozen=True, slots=True)
class HandoverPoint:
    """One thing that a person looks at before a site is handed over: what, how it stands, and where it is done."""

    title: "StrOrPromise"
    sentence: "StrOrPromise"
    open: bool
    part: str
    """Which part of the site's page shows it: ``standing``, ``to-do``, ``owners``, ``permissions``."""


PointSource = Callable[[HttpRequest, Site], list[HandoverPoint]]


def points_of(request: HttpRequest, site: Site) -> list[HandoverPoint]:
    """What other packages say before ``site`` is handed over, in their order."""
    sources: list[PointSource] = [import_string(name) for name in settings.HANDOVER_POINTS]
    return [point for source in sources for point in source(request, site)]


def panels_of(request: HttpRequest, site: Site) -> list[Panel]:
    """The panels that other packages give for ``site``, in no order yet."""
    sources: list[PanelSource] = [import_string(name) for name in settings.SITE_PANELS]
    return [panel for source in sources for panel in source(request, site)]
