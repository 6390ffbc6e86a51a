"""The company's own pages: policy, link domains."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.company import DomainForm, PolicyForm
from fleet.forms.refused import show_refusal
from fleet.models import Member
from fleet.operations.link_domains import list_domain, unlist_domain
from fleet.operations.policy import DECISIONS, PARTICULARS, decide_policy
from fleet.operations.refusals import ActRefused
from fleet.queries.catalogue import link_domains_of
from fleet.views.staff import administrators_page, one_act


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def policy(request: HttpRequest, member: Member) -> HttpResponse:
    """What administrators decide for everybody."""
    form = PolicyForm(request.POST or None, company=member.company, instance=member.company.policy)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                decide_policy(
                    actor=member,
                    particulars={name: given[name] for name in PARTICULARS},
                    decisions={name: given[name] for name in DECISIONS},
                )
            except ActRefused as refusal:
                status = show_refusal(form, refusal)
            else:
                messages.success(request, _("Saved."))
                return redirect("fleet:policy")
    return render(request, "fleet/policy.html", {"form": form}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def link_domains(request: HttpRequest, member: Member) -> HttpResponse:
    """The domains whose links identify devices."""
    form = DomainForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                listed = list_domain(actor=member, domain=form.cleaned_data["domain"])
            except ActRefused as refusal:
                status = show_refusal(form, refusal)
            else:
                messages.success(request, _("Links of %(domain)s now identify devices.") % {"domain": listed.domain})
                return redirect("fleet:link_domains")
    context = {"form": form, "domains": list(link_domains_of(member))}
    return render(request, "fleet/link_domains.html", context, status=status)


@require_POST
@administrators_page
def unlist(request: HttpRequest, member: Member) -> HttpResponse:
    """Take a domain off the list."""
    domain = request.POST.get("domain", "")
    return one_act(
        request,
        lambda: unlist_domain(actor=member, domain=domain),
        done=_("Links of %(domain)s are not taken for identification any more.") % {"domain": domain},
        then=reverse("fleet:link_domains"),
    )
