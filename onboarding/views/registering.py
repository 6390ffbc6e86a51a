"""Registering a site together with its owner, its order number and what is planned, by one press."""

from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.plans import PlanForm, ReferencesForm
from fleet.forms.refused import show_refusal
from fleet.forms.sites import SiteForm
from fleet.models import Member
from fleet.operations.permissions import Act, may
from fleet.operations.plans import BadPlan
from fleet.operations.references import BadReference
from fleet.operations.refusals import ActRefused
from fleet.views.staff import staff_page
from onboarding.forms.registering import FirstOwnerForm
from onboarding.models import Owner
from onboarding.operations.owners import BadOwnerFacts, OwnerAddressTaken
from onboarding.operations.registering import register_whole_site
from onboarding.queries.known_already import Typed, sites_at_address, sites_of_order, sites_of_owner


@dataclass
class Forms:
    """The parts of the page."""

    site: SiteForm
    owner: FirstOwnerForm
    numbers: ReferencesForm
    plan: PlanForm

    def are_valid(self) -> bool:
        """Whether each part can be used; every part is asked, so that each shows its faults."""
        answers = [each.is_valid() for each in (self.site, self.owner, self.numbers, self.plan)]
        return all(answers)

    def show(self, refusal: ActRefused) -> int:
        """Put the refusal beside the part it speaks of; gives the HTTP status."""
        if isinstance(refusal, BadReference):
            return show_refusal(self.numbers, refusal)
        if isinstance(refusal, BadPlan):
            return show_refusal(self.plan, refusal)
        about_owner = isinstance(refusal, BadOwnerFacts | OwnerAddressTaken)
        return show_refusal(self.owner if about_owner else self.site, refusal)


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def new_site(request: HttpRequest, member: Member) -> HttpResponse:
    """Register a site and go to its page."""
    forms = _forms(request, member)
    if request.method != "POST":
        return _page(request, forms)
    if not forms.are_valid():
        return _page(request, forms, status=422)
    attached = _known_owner(member, request.POST.get("attach", ""))
    try:
        site = register_whole_site(
            actor=member,
            facts=forms.site.facts,
            owner=attached or forms.owner.facts,
            references=forms.numbers.references,
            counts={kind: count for kind, count in forms.plan.counts.items() if count is not None},
        )
    except OwnerAddressTaken as refusal:
        known = _known_owner(member, str(refusal.facts.get("owner", "")))
        return _page(request, forms, known=known, status=forms.show(refusal))
    except ActRefused as refusal:
        return _page(request, forms, status=forms.show(refusal))
    messages.success(
        request,
        _("Registered as %(code)s. Next: scan the labels of what stands there.") % {"code": site.written_code},
    )
    return redirect("fleet:site", site.code)


@require_POST
@staff_page
def known_already(request: HttpRequest, member: Member) -> HttpResponse:
    """Whether the register has what is being typed already; names visible sites only. Nothing is written."""
    given = request.POST
    typed = Typed(
        street=given.get("street", "")[:160],
        house_number=given.get("house_number", "")[:20],
        owner=given.get("owner-name", "")[:120],
        email=given.get("owner-email", "")[:254],
        phone=given.get("owner-phone", "")[:40],
        order=given.get("order", "")[:400],
    )
    about = request.GET.get("about", "")
    context: dict[str, object] = {}
    if about == "address":
        context["at_address"] = sites_at_address(member, typed)[:3]
    elif about == "owner":
        context["of_owner"] = sites_of_owner(member, typed)
    elif about == "order":
        context["of_order"] = sites_of_order(member, typed)
    return render(request, "onboarding/parts/known_already.html", context)


def _forms(request: HttpRequest, member: Member) -> Forms:
    data = request.POST if request.method == "POST" else None
    return Forms(
        site=SiteForm(data, initial={"country": member.company.country}),
        owner=FirstOwnerForm(data, prefix="owner"),
        numbers=ReferencesForm(data),
        plan=PlanForm(data, prefix="plan"),
    )


def _known_owner(member: Member, public_id: str) -> Owner | None:
    """The company's owner with this id, for those who may attach owners of other sites."""
    if not may(member, Act.CHANGE_OWNER):
        return None
    try:
        wanted = UUID(public_id)
    except ValueError:
        return None
    return Owner.objects.filter(company_id=member.company_id, public_id=wanted, erased_at__isnull=True).first()


def _page(request: HttpRequest, forms: Forms, *, known: Owner | None = None, status: int = 200) -> HttpResponse:
    context = {
        "form": forms.site,
        "owner_form": forms.owner,
        "numbers": forms.numbers,
        "plan_form": forms.plan,
        "known": known,
    }
    return render(request, "onboarding/staff/new_site.html", context, status=status)
