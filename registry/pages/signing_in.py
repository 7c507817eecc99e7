"""Signing in and out, and the membership one acts under."""

from __future__ import annotations

from typing import cast

from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from registry.models import Membership, User


@method_decorator(never_cache, name="dispatch")
class SignIn(LoginView):
    """The refusal is one sentence of ours: it does not tell whether the name exists."""

    template_name = "sign_in.html"
    redirect_authenticated_user = True

    def get_default_redirect_url(self) -> str:
        """A person of several memberships chooses first."""
        user = cast(User, self.request.user)
        several = Membership.objects.in_force().filter(user=user).count() > 1
        return reverse("membership" if several else "home")


@login_required
@require_http_methods(["GET", "POST"])
def membership(request: HttpRequest) -> HttpResponse:
    """The memberships in force of the person signed in; a POST chooses one of them."""
    user = cast(User, request.user)
    own = list(
        Membership.objects.in_force()
        .filter(user=user)
        .select_related("clinic", "network")
        .order_by("id")
    )
    if request.method == "POST":
        wanted = request.POST.get("membership")
        chosen = next((one for one in own if str(one.pk) == wanted), None)
        if chosen is not None:
            request.session["membership_id"] = chosen.pk
            return redirect("home")
    return render(request, "membership.html", {"memberships": own})
