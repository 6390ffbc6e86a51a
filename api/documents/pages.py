"""What any list takes."""

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm

MOST_PER_PAGE = 200


class PageQuery(StrictForm):
    """What any list takes in its query string."""

    cursor = serializers.CharField(
        required=False, max_length=120, help_text=_("Where to go on: from “next”, as it is.")
    )
    limit = serializers.IntegerField(
        required=False, min_value=1, max_value=MOST_PER_PAGE, default=50, help_text=_("Rows on a page.")
    )
