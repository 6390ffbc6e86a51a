"""API tokens: issue (shown once) and revoke."""

from datetime import date, datetime, time
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.members import TokenForm
from fleet.forms.refused import show_refusal
from fleet.models import ApiToken, Member
from fleet.operations.refusals import ActRefused
from fleet.operations.tokens import issue_token, revoke_token
from fleet.queries.tokens import tokens_shown_to
from fleet.views.staff import one_act, staff_page


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def tokens(request: HttpRequest, member: Member) -> HttpResponse:
    """One's own tokens, for an administrator everybody's; a new one's secret is shown in this answer only."""
    form = TokenForm(request.POST or None)
    status, secret, fresh = 200, "", None
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                fresh, secret = issue_token(
                    actor=member,
                    name=form.cleaned_data["name"],
                    scopes=form.cleaned_data["scopes"],
                    expires_at=_end_of(form.cleaned_data["until"]),
                )
                status, form = 201, TokenForm()
            except ActRefused as refusal:
                status = show_refusal(form, refusal)
    return _page(request, member, form, status, fresh, secret)


@require_POST
@staff_page
def revoke(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """End a token at once."""
    token = tokens_shown_to(member).filter(public_id=public_id).first()
    if token is None:
        raise Http404
    return one_act(
        request,
        lambda: revoke_token(actor=member, token=token),
        done=_("Revoked: “%(name)s” opens nothing any more.") % {"name": token.name},
        then=reverse("fleet:tokens"),
    )


def _page(
    request: HttpRequest, member: Member, form: TokenForm, status: int, fresh: ApiToken | None, secret: str
) -> HttpResponse:
    rows = list(tokens_shown_to(member)[:500])
    now = timezone.now()
    live = [row for row in rows if row.revoked_at is None and (row.expires_at is None or row.expires_at > now)]
    over = [row for row in rows if row not in live]
    context = {"form": form, "live": live, "over": over, "fresh": fresh, "secret": secret}
    return render(request, "fleet/tokens.html", context, status=status)


def _end_of(day: date | None) -> datetime | None:
    return timezone.make_aware(datetime.combine(day, time.max)) if day else None
