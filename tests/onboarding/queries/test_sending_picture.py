"""Sending day by day: a day is the company's, not Greenwich's."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models import CompanyPolicy
from onboarding.models import Delivery
from onboarding.queries.sending_picture import sending_picture
from tests import rows

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("zone", ["Pacific/Auckland", "Atlantic/Azores", "Europe/Lisbon"])
def test_a_mail_begun_before_and_one_after_the_companys_midnight_are_of_two_days(zone: str, client):
    member = rows.make_member()
    CompanyPolicy.objects.filter(company=member.company).update(default_time_zone=zone)
    member.refresh_from_db()
    site = rows.make_site(member.company)
    invitation = rows.make_invitation(site, rows.make_owner(member.company))
    midnight = timezone.localtime(timezone=ZoneInfo(zone)).replace(hour=0, minute=0, second=0, microsecond=0)
    for moment in (midnight - timedelta(minutes=1), midnight, midnight + timedelta(seconds=1)):
        delivery = rows.make_delivery(invitation, send_number=Delivery.objects.count() + 1)
        Delivery.objects.filter(pk=delivery.pk).update(created_at=moment)
    days = {day.day: day.total for day in sending_picture(member).days if day.total}
    assert days == {midnight.date() - timedelta(days=1): 1, midnight.date(): 2}
    client.force_login(member.user)
    assert f"A day is the company’s ({zone})." in client.get(reverse("onboarding:sending")).content.decode()
