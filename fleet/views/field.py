"""The field page's shell and what makes it open without internet. Nothing here knows who asks: no personal data."""

import hashlib
import json

from csp.decorators import csp_update
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from fleet.field_page import (
    DECODER,
    DECODER_PARTS,
    LIBRARIES,
    NOTICED_SKEW,
    SCHEMA,
    STYLES,
    file_content,
    kept_addresses,
    page_version,
    script_content,
)
from fleet.labels.families import BEFORE, FAMILIES
from fleet.labels.secrets import patterns
from fleet.views.field_words import words

WASM_ALLOWED = {"script-src": ["'wasm-unsafe-eval'"]}
"""Compiling the decoder needs it; nothing else gains by it (CSP Level 3, section 2.3.1)."""


@require_safe
@vary_on_headers("Accept-Language")
@cache_control(no_cache=True)
@csp_update({**WASM_ALLOWED, "worker-src": ["'self'"], "media-src": ["'self'", "blob:"]})
def page(request: HttpRequest) -> HttpResponse:
    """The shell: the same for everybody, signed in or not."""
    return HttpResponse(_shell())


@require_safe
@vary_on_headers("Accept-Language")
@cache_control(no_cache=True)
def service_worker(request: HttpRequest) -> HttpResponse:
    """The worker that keeps shell and files, all or none; its name changes with any of them."""
    kept = {
        "version": hashlib.sha256((_shell() + page_version()).encode()).hexdigest()[:16],
        "shell": reverse("fleet:field"),
        "files": [*kept_addresses(), _script_address(), _decoder_address()],
    }
    source = render_to_string("fleet/field/sw.js", {"kept": json.dumps(kept)})
    return HttpResponse(source, content_type="text/javascript")


@require_safe
@cache_control(no_cache=True)
def script(request: HttpRequest) -> HttpResponse:
    """The page's own scripts."""
    return HttpResponse(script_content(), content_type="text/javascript")


@require_safe
@cache_control(no_cache=True)
@csp_update(WASM_ALLOWED)
def decoder(request: HttpRequest) -> HttpResponse:
    """The decoder's worker. It stands below /field/ so that the service worker also serves what it loads."""
    return HttpResponse(file_content(DECODER), content_type="text/javascript")


@require_safe
@cache_control(no_cache=True)
def manifest(request: HttpRequest) -> HttpResponse:
    """What a phone needs to put the page on its home screen."""
    words_here = words()
    document = {
        "name": words_here["app_name"],
        "short_name": words_here["app_short_name"],
        "start_url": reverse("fleet:field"),
        "scope": reverse("fleet:field"),
        "display": "standalone",
        "background_color": "#f8f3e9",
        "theme_color": "#f8f3e9",
        "icons": [
            {"src": static("fleet/mark.svg"), "sizes": "any", "type": "image/svg+xml"},
            {"src": static("fleet/field/icon-512.png"), "sizes": "512x512", "type": "image/png"},
        ],
    }
    return HttpResponse(json.dumps(document), content_type="application/manifest+json")


def _shell() -> str:
    return render_to_string(
        "fleet/field/page.html",
        {
            "styles": [static(name) for name in STYLES],
            "scripts": [*(static(name) for name in LIBRARIES), _script_address()],
            "words": words(),
            "facts": {
                "schema": SCHEMA,
                "version": page_version(),
                "language": get_language(),
                "base_url": settings.BASE_URL,
                "shell": reverse("fleet:field"),
                "service_worker": reverse("fleet:field_service_worker"),
                "decoder": _decoder_address(),
                "decoder_parts": [static(name) for name in DECODER_PARTS],
                "session": reverse("api:field_session"),
                "records": reverse("api:field_records"),
                "devices": reverse("api:devices"),
                "sign_in": f"{reverse('account_login')}?next={reverse('fleet:field')}",
                "sign_out": reverse("account_logout"),
                "noticed_skew_ms": int(NOTICED_SKEW.total_seconds() * 1000),
                "refused_starts": FAMILIES,
                "refused_before": BEFORE,
                "secrets": patterns(),
            },
        },
    )


def _script_address() -> str:
    return _versioned("fleet:field_script", script_content())


def _decoder_address() -> str:
    return _versioned("fleet:field_decoder", file_content(DECODER))


def _versioned(name: str, content: bytes) -> str:
    return f"{reverse(name)}?v={hashlib.sha256(content).hexdigest()[:12]}"
