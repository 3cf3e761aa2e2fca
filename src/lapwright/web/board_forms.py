"""Forms of the Board: what if, and what the shop is made of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.formats import date_format
from django.utils.timezone import get_current_timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright.app.queue import BoardQuestion
from lapwright.model.board import BoardPlace, HeldTask, ShopHours, ShopTimes, WeekShift
from lapwright.model.queue import Changeovers
from lapwright.web.forms import NumberField
from lapwright.web.gauge_forms import NameField
from lapwright.web.sentences import day_form

_MINUTE, _HOUR = 60.0, 3600.0
MOMENT = "%Y-%m-%dT%H:%M"
_MOMENTS = (MOMENT, f"{MOMENT}:%S")
_CLOCK = {"type": "datetime-local", "step": "300"}
KINDS = [
    ("lap", _("lapping station")), ("polish", _("polishing station")), ("bond", _("bonder")),
    ("clean", _("cleaning bench")), ("measure", _("reading bench")),
]  # fmt: skip
DAYS = (_("Monday"), _("Tuesday"), _("Wednesday"), _("Thursday"), _("Friday"), _("Saturday"), _("Sunday"))


class MomentField(forms.DateTimeField):
    """A moment by the laboratory's clock; an hour that is left out or comes twice there is told as such."""

    def to_python(self, value: Any) -> datetime | None:
        """The moment typed, aware."""
        try:
            return super().to_python(value)
        except ValidationError as error:
            if error.code != "ambiguous_timezone":
                raise
        zone = get_current_timezone()
        typed = next(filter(None, (_read(str(value).strip(), form) for form in _MOMENTS)))
        offsets = [typed.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1)]
        sentence = (
            _now("%(time)s comes twice, because the clocks go back then. Type a time outside of that hour.")
            if offsets[0] > offsets[1]  # type: ignore[operator]  # a zone has an offset
            else _now("%(time)s does not exist, because the clocks go forward then. Type a time outside of that hour.")
        )
        raise ValidationError(sentence % {"time": date_format(typed, f"{day_form('j M Y')} H:i")})


def moment_field(label: Any) -> forms.DateTimeField:
    """A moment by the laboratory's clock."""
    widget = forms.DateTimeInput(attrs=_CLOCK, format=MOMENT)
    return MomentField(label=label, required=False, input_formats=list(_MOMENTS), widget=widget)


class WhatIfForm(forms.Form):
    """Every change that can be asked about; those left empty are not asked."""

    down = forms.ChoiceField(label=_("Place"), required=False)
    down_from = moment_field(_("From"))
    down_until = moment_field(_("Until"))
    down_why = forms.CharField(label=_("Why"), required=False, max_length=60)
    first = forms.ChoiceField(label=_("Order"), required=False)
    extra_from = moment_field(_("From"))
    extra_until = moment_field(_("Until"))
    extra_people = forms.IntegerField(label=_("People"), required=False, min_value=1, max_value=100, initial=1)
    fix = forms.CharField(required=False, max_length=150, widget=forms.HiddenInput)
    fix_place = forms.ChoiceField(label=_("Place"), required=False)
    fix_start = moment_field(_("Not before"))
    let_go = forms.CharField(required=False, max_length=150, widget=forms.HiddenInput)
    anew = forms.CharField(required=False, max_length=1, widget=forms.HiddenInput)

    def __init__(self, *args: Any, places: Sequence[str], orders: Sequence[str], **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("down", "fix_place"):
            self.fields[name].choices = [("", "–"), *((one, one) for one in places)]  # type: ignore[attr-defined]
        self.fields["first"].choices = [("", "–"), *((one, one) for one in orders)]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Times that belong together, both given and in order."""
        data = super().clean() or self.cleaned_data
        for asked, start, end in (("down", "down_from", "down_until"), ("extra_from", "extra_from", "extra_until")):
            if self.errors.get(start) or self.errors.get(end):
                continue
            if data.get(asked) and not (data.get(start) and data.get(end) and data[start] < data[end]):
                self.add_error(end, _now("Give both times, the later one last."))
        if data.get("fix") and not (data.get("fix_place") and data.get("fix_start")):
            raise ValidationError(_now("Say on which place, and not before when."))
        return data

    @property
    def is_asked(self) -> bool:
        """Whether any change was asked about; only after the form was found valid."""
        return self.asks(self.cleaned_data)

    @staticmethod
    def asks(sent: Mapping[str, Any]) -> bool:
        """Whether what was sent asks about any change."""
        return any(sent.get(name) for name in ("down", "first", "extra_from", "fix", "let_go", "anew"))

    def question(self) -> BoardQuestion:
        """What was asked; only after the form was found valid."""
        data = self.cleaned_data
        down = None
        if data["down"]:
            down = (data["down"], data["down_from"], data["down_until"], data["down_why"] or _now("out of use"))
        extra = None
        if data["extra_from"]:
            extra = (data["extra_from"], data["extra_until"], data["extra_people"] or 1)
        fix = None
        if data["fix"]:
            fix = HeldTask(task_id=data["fix"], place_id=data["fix_place"], start=data["fix_start"].timestamp())
        return BoardQuestion(
            down=down, first=data["first"] or None, extra=extra, fix=fix, let_go=data["let_go"] or None
        )


class PlaceForm(forms.Form):
    """A place that the Board plans with."""

    place_id = NameField(label=_("Short name"), help_text=_("That of a station, or a name of its own for a bench."))
    name = forms.CharField(label=_("What it is"), required=False, max_length=200)
    kind = forms.ChoiceField(label=_("Kind"), choices=KINDS)
    positions = forms.IntegerField(label=_("Wafers at once"), min_value=1, max_value=100, initial=1)
    plates = forms.CharField(
        label=_("Plates that can be put on it"), required=False, max_length=300,
        help_text=_("By their names in the library, with commas. Empty: only what lies on it."),
    )  # fmt: skip

    def place(self, known: Sequence[BoardPlace]) -> BoardPlace:
        """The place typed; its closures stay as they were."""
        data = self.cleaned_data
        before = next((one for one in known if one.place_id == data["place_id"]), None)
        plates = tuple(part.strip() for part in data["plates"].split(",") if part.strip())
        return BoardPlace(
            place_id=data["place_id"], name=data["name"], kind=data["kind"], positions=data["positions"],
            plates=plates, closed=() if before is None else before.closed,
        )  # fmt: skip


class HoursForm(forms.Form):
    """The hours of the week; a day left empty is free."""

    def __init__(self, *args: Any, hours: ShopHours, **options: Any) -> None:
        super().__init__(*args, **options)
        self.hours = hours
        for number, day in enumerate(DAYS):
            known = next((one for one in hours.week if one.weekday == number), None)
            for name, label, value in (
                ("from", _now("from"), None if known is None else _time_text(known.start)),
                ("until", _now("until"), None if known is None else _time_text(known.end)),
            ):
                self.fields[f"{name}_{number}"] = forms.TimeField(
                    label=f"{day} {label}", required=False, initial=value, input_formats=["%H:%M", "%H:%M:%S"],
                    widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
                )  # fmt: skip
            self.fields[f"people_{number}"] = forms.IntegerField(
                label=f"{day} {_now('people')}", required=False, min_value=1, max_value=100,
                initial=1 if known is None else known.people,
            )  # fmt: skip

    def days(self) -> list[tuple[str, list[tuple[str, forms.BoundField]]]]:
        """Each day with its boxes, each with the word that is enough below the name of the day."""
        words = (("from", _now("from")), ("until", _now("until")), ("people", _now("people")))
        return [
            (str(day), [(word, self[f"{name}_{number}"]) for name, word in words]) for number, day in enumerate(DAYS)
        ]

    def clean(self) -> dict[str, Any]:
        """A day has both times or none."""
        data = super().clean() or self.cleaned_data
        for number in range(7):
            start, end = data.get(f"from_{number}"), data.get(f"until_{number}")
            if (start is None) != (end is None) or (start is not None and end is not None and start >= end):
                self.add_error(f"until_{number}", _now("Give both times, the later one last, or none."))
        return data

    def shop_hours(self) -> ShopHours:
        """The hours typed; extra hours and days off stay as they were."""
        week = []
        for number in range(7):
            start, end = self.cleaned_data[f"from_{number}"], self.cleaned_data[f"until_{number}"]
            if start is not None:
                people = self.cleaned_data[f"people_{number}"] or 1
                week.append(WeekShift(weekday=number, start=_seconds(start), end=_seconds(end), people=people))
        return ShopHours(week=tuple(week), extra=self.hours.extra, off=self.hours.off)


class TimesForm(forms.Form):
    """How long things take, in minutes."""

    FIELDS = (
        ("plate_change", _("Plate or pad changed")), ("wash", _("Wash between abrasives")),
        ("cleaning", _("Thorough cleaning")), ("templates", _("Templates for another size")),
        ("loading", _("Loading, with zero")), ("bonding", _("Bonding cycle")), ("cooling", _("Cooling of a bond")),
        ("reading", _("Rinse, dry and read")), ("taking_off", _("Take off and clean")),
    )  # fmt: skip

    def __init__(self, *args: Any, times: ShopTimes, **options: Any) -> None:
        super().__init__(*args, **options)
        for name, label in self.FIELDS:
            known = getattr(times.changeovers, name, None)
            value = getattr(times, name) if known is None else known
            self.fields[name] = NumberField(label=label, least=0.0, most=1440.0, initial=round(value / _MINUTE, 3))

    def shop_times(self) -> ShopTimes:
        """The times typed."""
        data = {name: self.cleaned_data[name] * _MINUTE for name, _label in self.FIELDS}
        first = ("plate_change", "wash", "cleaning", "templates")
        return ShopTimes(
            changeovers=Changeovers(**{name: data[name] for name in first}),
            **{name: value for name, value in data.items() if name not in first},
        )


def moment_of(text: str) -> datetime | None:
    """A moment given as seconds since 1970; None when it is none."""
    if not text.isascii() or not text.isdigit() or len(text) > 11:
        return None
    return datetime.fromtimestamp(int(text), tz=UTC)


# ----------------------------------------------------------------------------------------------------------------------


def _read(text: str, form: str) -> datetime | None:
    try:
        return datetime.strptime(text, form)  # noqa: DTZ007  by the laboratory's clock, which is added
    except ValueError:
        return None


def _time_text(seconds: float) -> str:
    minutes = min(int(seconds // _MINUTE), 1439)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _seconds(time: Any) -> float:
    return float(time.hour * _HOUR + time.minute * _MINUTE + time.second)
