"""Taking a passkey off, which allauth lets happen without asking whether it may."""

from allauth.mfa.adapter import get_adapter
from allauth.mfa.webauthn.views import RemoveWebAuthnView
from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse


class RemovePasskey(RemoveWebAuthnView):  # type: ignore[misc]  # allauth ships no types
    """Refuses where the password is too short to stand alone."""

    def form_valid(self, form: Form) -> HttpResponse:
        """Take the passkey off, or say what has to be done before."""
        adapter = get_adapter()
        if not adapter.can_delete_authenticator(self.get_object()):
            messages.error(self.request, str(adapter.error_messages["cannot_delete_authenticator"]))
            return HttpResponseRedirect(reverse("account_change_password"))
        response: HttpResponse = super().form_valid(form)
        return response
