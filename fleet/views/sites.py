"""The list of sites: as they were registered, or as a text finds them, narrowed by filters in the address."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from fleet.labels.sitecode import parse_site_code
from fleet.models import Member
from fleet.operations.site_columns import choose_site_columns
from fleet.own_paths import is_own_path
from fleet.queries.sites import has_no_sites, site_by_code
from fleet.search import SiteFilters, find_sites
from fleet.search.listing import NEWEST, PAGE, list_sites, order_named
from fleet.views.site_columns import ALWAYS, COLUMNS, chosen_columns, heads, order_words
from fleet.views.site_filters import filter_groups, with_query
from fleet.views.staff import staff_page

LONGEST_TEXT = 400
DEEPEST_PAGE = 40


@require_safe
@staff_page
def sites(request: HttpRequest, member: Member) -> HttpResponse:
    """One page of sites. A text that is a site's code leads straight to that site."""
    text = request.GET.get("q", "")[:LONGEST_TEXT].strip()
    if text and not request.htmx and (site := site_by_code(member, text)):  # type: ignore[attr-defined]  # django-htmx's
        return redirect("fleet:site", site.code)
    filters = SiteFilters.from_query(request.GET)
    context = _found(request, member, text, filters) if text else _listed(request, member, filters)
    sort = _sort(request, text)
    context |= {
        "searched": text,
        "filters": filters,
        "lifted_url": _lifted(text, sort),
        "heads": heads(member, filters, text, sort),
        "order_words": order_words(text, sort),
        "columns": [(column, column in chosen_columns(member)) for column in COLUMNS if column.name != ALWAYS],
    }
    context["nothing_yet"] = not (context["rows"] or text or filters) and has_no_sites(member)
    if request.GET.get("counts") == "shown":
        context["groups"] = filter_groups(member, text, filters, sort)
    else:
        context["filters_url"] = with_query(reverse("fleet:site_filters"), filters, q=text, sort=sort)
        context["shown_url"] = with_query(reverse("fleet:sites"), filters, q=text, sort=sort, counts="shown")
    return render(request, "fleet/sites.html", context)


@require_safe
@staff_page
def site_filters(request: HttpRequest, member: Member) -> HttpResponse:
    """The filters beside the list with their counts, which take longer than the list itself."""
    text = request.GET.get("q", "")[:LONGEST_TEXT].strip()
    filters = SiteFilters.from_query(request.GET)
    sort = _sort(request, text)
    context = {
        "filters": filters,
        "groups": filter_groups(member, text, filters, sort),
        "lifted_url": _lifted(text, sort),
    }
    return render(request, "fleet/parts/filters.html", context)


@require_POST
@staff_page
def site_columns(request: HttpRequest, member: Member) -> HttpResponse:
    """Keep the columns that the member wants to see, and go back to the list."""
    wanted = request.POST.getlist("column")
    choose_site_columns(actor=member, names=[column.name for column in COLUMNS if column.name in {*wanted, ALWAYS}])
    back = request.POST.get("next", "")
    return redirect(back if is_own_path(back) else "fleet:sites")


def _sort(request: HttpRequest, text: str) -> str:
    """The order that the address asks for, empty for the usual one."""
    name = request.GET.get("sort", "")
    return "" if text or order_named(name) == NEWEST else name


def _lifted(text: str, sort: str) -> str:
    return with_query(reverse("fleet:sites"), SiteFilters(), q=text, sort=sort)


def _found(request: HttpRequest, member: Member, text: str, filters: SiteFilters) -> dict[str, object]:
    page = _page_number(request.GET.get("page", ""))
    results = find_sites(member=member, text=text, filters=filters, limit=PAGE, offset=(page - 1) * PAGE)
    here = reverse("fleet:sites")
    further = results.further and page < DEEPEST_PAGE
    return {
        "rows": results.rows,
        "results": results,
        "total": results.total,
        "newer_url": with_query(here, filters, q=text, page=str(page - 1)) if page > 1 else "",
        "older_url": with_query(here, filters, q=text, page=str(page + 1)) if further else "",
    }


def _listed(request: HttpRequest, member: Member, filters: SiteFilters) -> dict[str, object]:
    newer, older = (parse_site_code(request.GET.get(name, "")) or "" for name in ("newer", "older"))
    sort = _sort(request, "")
    listed = list_sites(
        member=member, filters=filters, order=order_named(sort), newer_than=newer, older_than=older
    )  # fmt: skip
    here = reverse("fleet:sites")
    return {
        "rows": listed.rows,
        "results": listed,
        "total": listed.total,
        "newer_url": with_query(here, filters, sort=sort, newer=listed.newer) if listed.newer else "",
        "older_url": with_query(here, filters, sort=sort, older=listed.older) if listed.older else "",
    }


def _page_number(text: str) -> int:
    return min(int(text), DEEPEST_PAGE) if text.isascii() and text.isdecimal() and len(text) < 4 and int(text) else 1
