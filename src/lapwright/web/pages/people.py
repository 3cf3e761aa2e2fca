"""Who works at this screen? Every record carries that name."""

from __future__ import annotations

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from lapwright.app import people
from lapwright.errors import LapwrightError, NotFound
from lapwright.web.surroundings import PERSON_COOKIE, shown, signed

_A_SHIFT_S = 12 * 3600


@require_http_methods(["GET", "HEAD", "POST"])
def who(request: HttpRequest) -> HttpResponse:
    """The people who may sign; a POST says which of them is here, or enters somebody new, who then is.

    Afterwards the page that led here is shown again.
    """
    if getattr(request, "rights", None) is not None:
        return redirect("account")
    known, back = people.list_people(), _back(request)
    if request.method != "POST":
        return shown(request, "who.html", here="who", people=known, form=NewPersonForm(), back=back)
    name = request.POST.get("name", "")
    if "new_name" in request.POST:
        form = NewPersonForm(request.POST)
        if not form.is_valid() or not _added(request, form):
            return shown(request, "who.html", here="who", people=known, form=form, back=back, status=422)
        return _signs(form.cleaned_data["new_name"], back)
    if name not in {card.name for card in known}:
        raise NotFound(f"Nobody here signs as {name!r}. Choose one of {', '.join(card.name for card in known)}.")
    return _signs(name, back)


# ----------------------------------------------------------------------------------------------------------------------


class NewPersonForm(forms.Form):
    """Somebody who works here and is not on record yet."""

    full_name = forms.CharField(label=_("Name"), max_length=120, help_text=_("As certificates print it."))
    new_name = forms.CharField(
        label=_("Short name"), max_length=60, help_text=_("One word that records carry, for example anna."),
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off", "spellcheck": "false"}),
    )  # fmt: skip


def _added(request: HttpRequest, form: NewPersonForm) -> bool:
    data = form.cleaned_data
    try:
        people.add_person(data["new_name"], data["full_name"], **signed(request, "works here"))
    except LapwrightError as error:
        form.add_error("new_name", error.faults[0].sentence if error.faults else error.sentence)
        return False
    return True


def _back(request: HttpRequest) -> str:
    """The page of this program that led here; Hands where none is named."""
    wanted = request.POST.get("next") or request.GET.get("next", "")
    is_ours = wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None)
    return wanted if is_ours else reverse("hands")


def _signs(name: str, back: str) -> HttpResponse:
    answer = redirect(back)
    answer.set_cookie(PERSON_COOKIE, name, max_age=_A_SHIFT_S, httponly=True, samesite="Lax")
    return answer
