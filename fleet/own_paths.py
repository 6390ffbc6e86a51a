"""Where a request may ask to be led: pages of ours alone."""

from urllib.parse import unquote

from django.utils.http import url_has_allowed_host_and_scheme


def is_own_path(url: str | None) -> bool:
    """Whether ``url`` is a path here, also once it is unquoted."""
    return bool(url) and all(
        each.startswith("/") and url_has_allowed_host_and_scheme(each, allowed_hosts=None)
        for each in (str(url), unquote(str(url)))
    )
