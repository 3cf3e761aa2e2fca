"""Numbers that readings, pictures and profiles give."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from lapwright.web.why.entry import Why

_READINGS = _("The readings of this set, zeros taken off as they drifted; each stands in the list below the numbers.")
_BUDGET = _("Every line of its uncertainty is drawn with its share under “Why ± so much?” on the page of the set.")

MEASURED = {
    "mean": Why(
        title=_("Mean thickness"),
        says=_("The mean over the sites, each the mean of its repeats; no site counts more than another."),
        formula="t̄ = (1/n) Σ tᵢ",
        symbols=_("tᵢ: mean of the repeats at site i; n: number of sites"),
        inputs=_READINGS,
        doubt=_BUDGET,
        source=_("JCGM 100:2008, 4.2 and eq. (16)"),
        page="thickness",
    ),
    "ttv": Why(
        title=_("TTV, as read"),
        says=_("Thickest site less thinnest site. The noise of the readings alone makes it larger than the wafer's."),
        formula="TTV = max tᵢ − min tᵢ",
        symbols=_("tᵢ: mean of the repeats at site i"),
        inputs=_READINGS,
        doubt=_(
            "It says nothing of the places between the sites. With repeats, the bias of noise is known and removed."
        ),
        source=_("SEMI MF533, MF657 (from memory)"),
        page="thickness",
    ),
    "ttv_corrected": Why(
        title=_("TTV, noise bias removed"),
        says=_(
            "TTV as read, less what noise adds to it on average about the shape that is seen. Limits are judged by it."
        ),
        formula="TTV_c = TTV − (E[max zᵢ − min zᵢ] − (max sᵢ − min sᵢ))",
        symbols=_(
            "sᵢ: fitted shape at site i; zᵢ: the same with the noise of a site mean; E: expected value. Where a wedge"
            " cannot be told from none (10 %), the even shape counts 1/0.9 and one with a wedge of four standard"
            " uncertainties −0.1/0.9."
        ),
        inputs=_("The site means and the scatter of the repeats, else that of the gauge's record."),
        doubt=_BUDGET,
        source=_("Tippett 1925 (from memory); derived"),
        page="thickness",
    ),
    "wedge": Why(
        title=_("Wedge"),
        says=_("Rise of the best plane over the full diameter; it points at the thickest edge."),
        formula="t = t₀ + a·x + b·y,   W = D·√(a² + b²),   φ = atan2(b, a)",
        symbols=_("x, y: place of a site in the wafer frame; D: full diameter; φ: counter-clockwise from +x"),
        inputs=_READINGS,
        doubt=_("A direction is told only where the wedge stands out of its uncertainty."),
        source=_("least squares"),
        page="thickness",
    ),
    "dome": Why(
        title=_("Middle thicker or thinner"),
        says=_("How much the middle stands out over the rim, plane taken out."),
        formula=_("t = t₀ + a·x + b·y + c·(x² + y²),   dome = −c·R²"),
        symbols=_("R: radius; c: curvature of the fitted bowl"),
        inputs=_("The readings of sites that do not all lie on one ring."),
        doubt=_("Left out where the sites cannot carry it."),
        source=_("least squares"),
        page="thickness",
    ),
    "judged": Why(
        title=_("Verdict on a limit"),
        says=_(
            "Conforms when the value lies inside the limit by more than the guard band, fails when outside by more."
        ),
        formula="w = u·t_{1−α}(ν),   P = F((T_U − y)/u) − F((T_L − y)/u)",
        symbols=_(
            "y: value; u: its standard uncertainty; ν: how well u is known; F: Student's distribution; α: agreed risk;"
            " T: limits. Where a multiple of U is agreed instead of a risk, w is that."
        ),
        inputs=_("The final set or the finding, the limit of the order, and its rule of decision."),
        doubt=_(
            "When the interval crosses the limit it cannot be decided; more repeats may help, and are counted out."
        ),
        source="JCGM 106:2012, 7.3, 7.4, 8.2, 8.3",
        page="process",
    ),
    "flatness": Why(
        title=_("Flatness and form of a face"),
        says=_("Height between the highest and the lowest point of the map, best plane taken out."),
        formula="h = (φ/2π)·h_f,   h_f = λ/(2·cos θ),   PV = max h − min h,   rms = √(Σ h²/n)",
        symbols=_("φ: unwrapped phase; h_f: height per fringe; λ: wavelength; θ: incidence from the normal"),
        inputs=_("The picture as received, its mask and scale, and the settings beside it."),
        doubt=_(
            "Place of a fringe, flatness of the reference, wavelength and angle; the lines stand beside the number."
        ),
        source="Takeda, Ina, Kobayashi, J. Opt. Soc. Am. 72 (1982) 156; JCGM 100:2008",
        page="fringes",
    ),
    "roughness": Why(
        title=_("Roughness"),
        says=_(
            "Mean height of the roughness profile (Ra) or its root mean square (Rq), after form and waviness are out."
        ),
        formula="Ra = (1/n) Σ |zᵢ|,   Rq = √((1/n) Σ zᵢ²),   Rz = mean Rpₖ + mean Rvₖ",
        symbols=_(
            "zᵢ: heights less the mean line, a mean weighed by exp(−π(x/αλc)²), α = 0.4697; detail shorter than λs is"
            " taken out in the same way before; n: heights evaluated; k: section of one cutoff"
        ),
        inputs=_("The profile or map as received, cutoff, filter and what is known of the instrument."),
        doubt=_("From place to place, noise and height scale of the instrument, tip and bandwidth."),
        source=_("ISO 21920-2, ISO 16610-21 (from memory)"),
        page="surface",
    ),
    "capability": Why(
        title=_("How well a limit is kept"),
        says=_("Room between mean and nearest limit, in units of three standard deviations of the wafers."),
        formula="C_pk = min(T_U − x̄, x̄ − T_L)/(3s)",
        symbols=_("x̄, s: mean and standard deviation of the finished wafers; T: limits"),
        inputs=_("The judged values of the order's wafers."),
        doubt=_("Few wafers give a wide interval; it is stated with the index."),
        source=_("NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6; interval: Kotz and Johnson 1993, 2 (memory)"),
        page="statistics",
    ),
    "study": Why(
        title=_("What a gauge is worth"),
        says=_("Scatter of one person on one piece (repeatability), between persons (reproducibility), and their sum."),
        formula=_(
            "σ²_repeat = M_E,   σ²_mixed = (M_PO − M_E)/r,   σ²_person = (M_O − M_PO)/pr,   σ²_piece = (M_P − M_PO)/or"
        ),
        symbols=_(
            "M: mean squares of a two-way analysis of p pieces, o persons and r repeats. Where M_PO cannot be told from"
            " M_E (chance above 0.25) the two are pooled, and the pooled one stands for both."
        ),
        inputs=_("The readings of the study, in the order they were taken."),
        doubt=_("Each deviation stands with its interval; few persons make it wide."),
        source=_("Montgomery, Design and Analysis of Experiments, example 13.1"),
        page="statistics",
    ),
    "control_chart": Why(
        title=_("Signal on a chart"),
        says=_("A weighted average that wanders, or a single value that stands out, beyond what chance would show."),
        formula=_("single values: x̄ ± 3·σ;   averages: zₜ = λ·xₜ + (1 − λ)·zₜ₋₁, x̄ ± L·σ·√(λ/(2 − λ))"),
        symbols=_(
            "xₜ: value at check t; σ: mean difference of neighbours over 1.128; λ = 0.2: weight of the newest; L = 2.86"
        ),
        inputs=_("The values in the order they were taken; what changed is marked on the same axis."),
        doubt=_("A chart without a change still signals now and then; look for the cause before acting."),
        source="NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, 6.3.2.4",
        page="statistics",
    ),
    "gauge_pair": Why(
        title=_("Two gauges on one piece"),
        says=_("How much more one gauge reads than the other on average, and what the budgets of both allow."),
        formula=_("d̄ = (1/n) Σ (aᵢ − bᵢ),   |d̄| ≤ √(U₁² + U₂² + U_d²),   d̄ ± 1.96·s"),
        symbols=_("a, b: the gauges at site i; U: common to a set, k = 2; U_d: half-width of the mean's interval"),
        inputs=_("The two sets named on the page, at their common sites."),
        doubt=_("It says nothing of an error that both gauges share, such as that of one standard."),
        source=_("Bland and Altman 1986; ISO 13528:2022 (from memory)"),
        page="statistics",
    ),
    "calibration": Why(
        title=_("Drift of a gauge, and its due date"),
        says=_(
            "One slope through all deviations, a level for each standard; the risk is that of lying beyond the limit."
        ),
        formula=(
            "b = Σ(t − t̄_g)(y − ȳ_g)/S,   P = T_ν((ŷ − L)/u) + T_ν((−L − ŷ)/u),   u² = s²·(1 + 1/n₀ + (t − t̄₀)²/S)"
        ),
        symbols=_("y: deviation at time t; S = Σ(t − t̄_g)²; s: scatter about the lines; n₀: calibrations; L: limit"),
        inputs=_("The calibrations and the checks of standards, each as the gauge stands now."),
        doubt=_("For a steady drift; after a blow or a repair the history begins anew."),
        source=_("NIST/SEMATECH e-Handbook of Statistical Methods, 4.5.1.2 (section from memory)"),
        page="statistics",
    ),
    "budget": Why(
        title=_("Uncertainty of one reading"),
        says=_(
            "Each thing that may be off adds in squares what it changes the reading by; about twice the root is the ±."
        ),
        formula=_("u² = Σ (c_i·u_i)²,   ν = u^4/Σ((c_i·u_i)^4/ν_i),   U = k·u,   k = t_{97.5 %}(⌊ν⌋)"),
        symbols=_(
            "u: standard uncertainty of each thing; c: how much of it comes into the reading; ν: how well it is known"
        ),
        inputs=_("The gauge's record, and the piece named: material, thickness, temperature, bow, probe."),
        doubt=_("What nobody named is not in it."),
        source=_("JCGM 100:2008, 5.1.2, G.4.1; sinking of a probe: Hertz 1881"),
        page="statistics",
    ),
}
