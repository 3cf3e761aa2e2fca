"""Who works at this screen? Every record carries that name."""

from __future__ import annotations

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from lapwright.app import people
from lapwright.errors import LapwrightError, NotFound
from lapwright.web.surroundings import PERSON_COOKIE, shown, signed

_A_SHIFT_S = 12 * 3600


@require_http_methods(["GET", "HEAD", "POST"])
def who(request: HttpRequest) -> HttpResponse:
    """The people who may sign; a POST says which of them is here, or enters somebody new, who then is."""
    if getattr(request, "rights", None) is not None:
        return redirect("account")
    known = people.list_people()
    if request.method != "POST":
        return shown(request, "who.html", here="who", people=known, form=NewPersonForm())
    name = request.POST.get("name", "")
    if "new_name" in request.POST:
        form = NewPersonForm(request.POST)
        if not form.is_valid() or not _added(request, form):
            return shown(request, "who.html", here="who", people=known, form=form, status=422)
        return _signs(form.cleaned_data["new_name"])
    if name not in {card.name for card in known}:
        raise NotFound(f"Nobody here signs as {name!r}. Choose one of {', '.join(card.name for card in known)}.")
    return _signs(name)


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


def _signs(name: str) -> HttpResponse:
    answer = redirect("hands")
    answer.set_cookie(PERSON_COOKIE, name, max_age=_A_SHIFT_S, httponly=True, samesite="Lax")
    return answer
