"""What a request leaves open, as questions to the customer, each with the reason why it matters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _

from lapwright.app.order_outlook import Outlook
from lapwright.web.forms import OrderForm

#: Fields that are the lab's own business and no question to a customer.
OURS = ("order_id", "customer", "value_per_wafer", "notes", "wafer_names", "copied_from", "spares", "risk",
        "guard_factor", "rule")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenQuestion:
    """One question: the field it is about, its words to the customer, and why it is asked."""

    field: str
    words: str
    why: str


def open_questions(form: OrderForm, outlook: Outlook | None) -> tuple[OpenQuestion, ...]:
    """All that is missing, was not understood, or cannot be kept as asked, in the order of the form."""
    return (*_not_understood(form), *_missing(form), *_unsaid(form), *_against(outlook))


def letter(questions: tuple[OpenQuestion, ...]) -> str:
    """The questions as a text to send."""
    if not questions:
        return ""
    numbered = [f"{number}. {one.words}" for number, one in enumerate(questions, start=1)]
    return "\n".join(
        [
            _("Thank you for your request. Before we can say whether and when we can do it we need to know:"),
            "",
            *numbered,
        ]
    )


# ----------------------------------------------------------------------------------------------------------------------


def _typed(form: OrderForm, name: str) -> str:
    return str(form[name].data or "").strip()


def _not_understood(form: OrderForm) -> Iterator[OpenQuestion]:
    """What was typed and is no length: mostly a number without its unit."""
    for name in form.errors:
        if name not in form.fields or name in OURS or not _typed(form, name):
            continue
        told = {"what": form[name].label, "text": _typed(form, name)[:40]}
        yield OpenQuestion(
            field=name,
            words=_("%(what)s: you wrote “%(text)s”. Which value, and in which unit?") % told,
            why=" ".join(str(one) for one in form.errors[name]),
        )


def _missing(form: OrderForm) -> Iterator[OpenQuestion]:
    needed = {
        "quantity": (_("How many pieces are there?"), _("Time and cost go with it.")),
        "material": (_("Which material is it?"), _("Rate, damage and hazards go by it.")),
        "start_thickness": (
            _("How thick are the pieces now, and how far do they differ?"),
            _("What is to take off follows from it."),
        ),
        "target_thickness": (_("Which thickness do you want?"), _("It is what is promised.")),
        "tolerance": (
            _("By how much may the thickness differ from that, ±?"),
            _("Without it nothing can be judged, and every stage depends on it."),
        ),
        "edge_exclusion": (
            _("How wide is the rim that does not count (edge exclusion)? Please write 0 mm if all of it counts."),
            _("TTV and flatness without it are not defined; edges are where they fail."),
        ),
        "hold": (
            _("Do your limits hold for the free piece, or for one that is clamped flat?"),
            _("A bowed piece that is clamped measures otherwise than a free one."),
        ),
    }
    for name, (words, why) in needed.items():
        if not _typed(form, name):
            yield OpenQuestion(field=name, words=words, why=why)
    outline = {"round": ("diameter",), "rectangle": ("width", "height")}.get(_typed(form, "shape"), ("diameter",))
    if any(not _typed(form, name) for name in outline):
        words = _("Which outline do the pieces have, and how large are they?")
        yield OpenQuestion(field=outline[0], words=words, why=_("Carrier, load and edge follow from it."))


def _unsaid(form: OrderForm) -> Iterator[OpenQuestion]:
    """What a form takes without, and what is worth asking all the same."""
    worth = {
        "due": (_("By when do you need them?"), _("So that a date can be promised.")),
        "ttv_limit": (
            _("Is there a limit on TTV (thickest less thinnest place)?"),
            _("The tolerance alone does not say how parallel the faces must be."),
        ),
        "start_damage": (
            _("How were the faces made (sawn, ground, lapped, polished), and how deep is the damage, if you know?"),
            _("Damage that is not known is taken as none."),
        ),
        "roughness_ra_limit": (
            _("Which finish do you need: a limit on Ra or Sq, with its cut-off, or is the lapped face enough?"),
            _("It decides whether it is polished at all."),
        ),
    }
    for name, (words, why) in worth.items():
        other = "roughness_sq_limit" if name == "roughness_ra_limit" else name
        if not _typed(form, name) and not _typed(form, other):
            yield OpenQuestion(field=name, words=words, why=why)


def _against(outlook: Outlook | None) -> Iterator[OpenQuestion]:
    """What cannot be kept or proved as asked: whether a wider limit would do."""
    if outlook is None:
        return
    for check in outlook.feasibility.checks:
        if check.answer != "can":
            name = check.limit.replace("_", " ")
            words = _("%(limit)s as asked is at the edge of what can be done. Could it be wider? %(remedy)s")
            yield OpenQuestion(field="", words=words % {"limit": name, "remedy": check.remedy}, why=check.sentence)
    for enough, sentence in outlook.proofs:
        if not enough:
            words = _("How do you check it when it arrives: with which instrument, at how many places?")
            yield OpenQuestion(field="", words=words, why=sentence)
            return
