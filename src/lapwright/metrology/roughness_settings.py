"""With which settings a roughness is taken: cutoffs, sections, filter, form; and which class of the standard they are.

The table itself lies in the library (`library.roughness_settings`). The automatic choice tries the classes from the
finest on and keeps the first whose own result does not ask for a coarser one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.library.roughness_settings import Rule, SelectedBy, SettingClass, setting_classes
from lapwright.metrology.filters import FilterKind
from lapwright.metrology.roughness_form import FormKind

InstrumentKind = Literal["stylus", "optical", "not_stated"]
Notice = tuple[str, str]

SECTIONS = 5  # ISO 21920-3:2021 and ISO 4288:1996: five sections unless stated
_RATIO_SLACK = 1e-9  # a value that sits on a limit belongs to the finer class, whatever its last bit


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughnessSettings:
    """How a roughness is taken.

    Attributes
    ----------
    cutoff : float [m]
        Wavelength that separates waviness from roughness; also the length of a section.
    short_cutoff : float or None [m]
        Wavelength below which detail is left out; None leaves all of it in.
    sections : int or None
        Sections of one cutoff that are evaluated; None takes as many as the profile holds.
    filter_kind : str
        "gaussian", "robust_gaussian" or "spline".
    form : str
        What is taken out first: "level", "line", "parabola", "cubic", "quartic" or "arc".
    setting_class : str or None
        Class of the standard these settings are, when they were chosen from its table.
    rule : str or None
        "iso21920" or "iso4288", when they were chosen from its table.
    """

    cutoff: float
    short_cutoff: float | None = None
    sections: int | None = SECTIONS
    filter_kind: FilterKind = "gaussian"
    form: FormKind = "line"
    setting_class: str | None = None
    rule: Rule | None = None

    def __post_init__(self) -> None:
        if not self.cutoff > 0.0:
            raise OutOfValidRange("cutoff", self.cutoff, "more than zero")
        if self.short_cutoff is not None and not 0.0 < self.short_cutoff < self.cutoff:
            expected = f"more than zero and less than the cutoff ({self.cutoff:g} m)"
            raise OutOfValidRange("short_cutoff", self.short_cutoff, expected)
        if self.sections is not None and self.sections < 1:
            raise OutOfValidRange("sections", self.sections, "one or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileInstrument:
    """What is known of the instrument; None = not known.

    Attributes
    ----------
    kind : str
        "stylus", "optical" or "not_stated".
    tip_radius : float or None [m]
        Radius of a stylus tip.
    noise : float or None [m]
        Rq (or Sq) of the instrument on a reference flat with the same settings.
    noise_degrees_of_freedom : float [1]
        How well `noise` is known.
    height_uncertainty : float or None [1]
        Relative standard uncertainty of the height scale, from its calibration.
    cutoff_uncertainty : float [1]
        Relative standard uncertainty of the effective cutoff: scale along the trace and filter of the instrument.
    """

    kind: InstrumentKind = "not_stated"
    tip_radius: float | None = None
    noise: float | None = None
    noise_degrees_of_freedom: float = float("inf")
    height_uncertainty: float | None = None
    cutoff_uncertainty: float = 0.0


UNKNOWN_INSTRUMENT = ProfileInstrument()


def setting_class_for(value: float, *, selected_by: SelectedBy = "ra", rule: Rule = "iso21920") -> SettingClass | None:
    """The class of settings that a roughness belongs to.

    Parameters
    ----------
    value : float [m]
        Ra, Rz or Rsm.
    selected_by : "ra", "rz" or "rsm"
        Which parameter `value` is.
    rule : "iso21920" or "iso4288"
        Whose table.

    Returns
    -------
    SettingClass or None
        None below the lowest or above the highest limit of the table.

    Raises
    ------
    OutOfValidRange
        `value` is negative.

    Notes
    -----
    Limits hold "above … up to and including": 0.02 µm exactly belongs to the cutoff 0.08 mm.

    References
    ----------
    .. [1] ISO 21920-3:2021, default settings; ISO 4288:1996, tables 1 to 3. Key ``iso21920_3``.

    Examples
    --------
    >>> setting_class_for(0.02e-6).cutoff, setting_class_for(0.021e-6).cutoff
    (8e-05, 0.00025)
    """
    if not value >= 0.0:
        raise OutOfValidRange(selected_by, value, "zero or more")
    for row in setting_classes(rule, selected_by):
        if is_within(value, row):
            return row
    return None


def is_within(value: float, row: SettingClass) -> bool:
    """Whether a roughness lies above the lower limit of a class and not above its upper one.

    Parameters
    ----------
    value : float [m]
        Ra, Rz or Rsm; nought lies in a class that begins at nought.
    row : SettingClass
        A row of the table.

    Returns
    -------
    bool

    Examples
    --------
    >>> from lapwright.library.roughness_settings import setting_classes
    >>> is_within(0.1e-6, setting_classes("iso21920", "ra")[1])
    True
    """
    return (value > row.above * (1.0 + _RATIO_SLACK) or row.above == 0.0) and not is_above(value, row)


def is_above(value: float, row: SettingClass) -> bool:
    """Whether a roughness lies above the upper limit of a class.

    Parameters
    ----------
    value : float [m]
        Ra, Rz or Rsm.
    row : SettingClass
        A row of the table.

    Returns
    -------
    bool

    Examples
    --------
    >>> from lapwright.library.roughness_settings import setting_classes
    >>> is_above(0.1e-6, setting_classes("iso21920", "ra")[1])
    False
    """
    return value > row.up_to * (1.0 + _RATIO_SLACK)
