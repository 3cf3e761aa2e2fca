"""Numbers of the work: bond, jig, route, run, plate, damage."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from lapwright.web.why.entry import Why

_IMAGINED = _("Imagined jobs, thousands of them, each with its own rates, stops, wedges and damage drawn at random.")

WORKED = {
    "bond": Why(
        title=_("Bond line"),
        says=_("What the stack is thicker than wafer and carrier together, site by site in one frame."),
        formula="bᵢ = sᵢ − wᵢ − cᵢ",
        symbols=_("s, w, c: stack, wafer and carrier at site i, mirrored and turned as they were mounted"),
        inputs=_("The three sets named on the page of the bond."),
        doubt=_("What differs from site to site adds in squares; an error common to the gauge enters the mean once."),
        source="JCGM 100:2008, 5.1, 5.2",
        page="thickness",
    ),
    "predicted_ttv": Why(
        title=_("TTV that the wafer would have"),
        says=_(
            "What follows for the finished wafer when the lap makes the stack parallel to the carrier's lower face."
        ),
        formula="tᵢ = T − (sᵢ − wᵢ) + mean(s − w)",
        symbols=_("T: target; s, w: stack and wafer at site i"),
        inputs=_("The set of the wafer and that of the stack."),
        doubt=_("Its uncertainty comes from the readings of both sets; what the lap adds is not in it."),
        source=_("geometry, derived; “Bond line” on the page of formulas"),
        page="thickness",
    ),
    "scrap": Why(
        title=_("Chance that the wafer misses its limit"),
        says=_("How likely the TTV to be expected lies beyond its limit, as far as it is known."),
        formula=_("P = F_ν((TTV − bias − limit)/u)"),
        symbols=_("u, ν: uncertainty of the predicted TTV and how well it is known"),
        inputs=_("The predicted TTV and the limit of the order."),
        doubt=_("Only what the readings leave open; stage by stage more may come."),
        source="JCGM 106:2012, 7.3",
        page="thickness",
    ),
    "adjusters": Why(
        title=_("Turn of an adjuster"),
        says=_("How much nearer the plate the wafer must come at each adjuster so that the lap takes the wedge out."),
        formula=_("Δᵢ = (W·Rᵢ/D)·cos(βᵢ − φ),   divisions = ± Δᵢ/k, rounded to a step"),
        symbols=_(
            "W, φ: wedge and its direction, turned as the wafer is mounted; Rᵢ, βᵢ: radius and azimuth of adjuster i;"
            " k: travel of a division; ±: which way its thread goes"
        ),
        inputs=_("The last set of the wafer, the jig's geometry and how the wafer is mounted."),
        doubt=_("Travel of a division as drawn until moves on record have taught the true one and its play."),
        source=_("geometry; formula 7.5 of the documentation"),
        page="process",
    ),
    "preset": Why(
        title=_("Preset"),
        says=_(
            "What to dial in so that the stop leaves the wafer at its height: removal wanted, less what the stop lags."
        ),
        formula=_("first touch: preset = t + W/2 − target − allowance − bias;   conforming: h − allowance − bias"),
        symbols=_(
            "t: thickness now; W: wedge, whose thick edge touches first; h: removal wanted; allowance: lag and run-down"
            " of the stop; bias: what the gauge reads too little in process, where it is known"
        ),
        inputs=_("The accepted zero, the last set and the stage of the chosen route."),
        doubt=_("Zero, gauge in process and stop each add; earlier runs correct it, never unasked."),
        source=_("definition"),
        page="process",
    ),
    "removed": Why(
        title=_("Removed so far"),
        says=_("Removal and rate as followed reading by reading; wild readings weigh nothing."),
        formula=_("m ← m + r·Δt + K₁·(gauge − m − r·Δt),   r ← r + K₂·(gauge − m − r·Δt)/Δt"),
        symbols=_("m: removal; r: rate; Δt: time since the last reading; K: weights by noise and resolution"),
        inputs=_("The readings of the station's gauge since the zero, and the planned rate to begin with."),
        doubt=_("Film, drift and foot wear that the gauge cannot tell from removal are in the interval where named."),
        source=_("Kalman 1960 (from memory); steady gains: α–β tracker, closed form"),
        page="process",
    ),
    "stop": Why(
        title=_("When it stops"),
        says=_("The stop is asked when the removal to be expected at its end reaches the target less a margin."),
        formula=_("m + r·(latency) ≥ target − margin"),
        symbols=_("margin: chosen so that too much removed is as rare as its cost asks"),
        inputs=_("Removal, rate and their uncertainty now, and the latency of the stop output."),
        doubt=_("The band is where nine of ten such runs end. The machine's own interlocks remain in charge."),
        source=_("derived; see “When to stop” in the documentation"),
        page="process",
    ),
    "rate": Why(
        title=_("Removal rate of the next run"),
        says=_(
            "The rate to be expected with its interval, from the lab's own runs as far as there are, else the library."
        ),
        formula=_("r = k·p^a·v^b·f_1·f_2·…,   nine of ten: r·exp(± t_{95 %}(ν)·s)"),
        symbols=_(
            "k: library; p: pressure; v: speed; f: factors of laboratory, station, plate, lot and age, near one where"
            " runs are few; s, ν: deviation of ln r and how well it is known"
        ),
        inputs=_("The finished runs of this material, plate and abrasive; the Rates page names each."),
        doubt=_("The interval holds nine of ten runs; outlying runs are set aside and named."),
        source=_("Preston 1927 (from memory), formula 1.1 of the documentation; linear regression with a prior"),
        page="process",
    ),
    "route_chance": Why(
        title=_("Chance of keeping every limit"),
        says=_("Share of imagined jobs by this route that end inside all limits, without damage and unbroken."),
        formula=_("P = kept jobs / imagined jobs"),
        symbols=_("drawn: rate, stop, wedge, form, damage, roughness, gauge, breakage"),
        inputs=_IMAGINED,
        doubt=_("As good as its assumptions; they stand on the Route page with how much hangs on each."),
        source=_("JCGM 101:2008, 7.2 to 7.6 (propagation by drawing)"),
        page="process",
    ),
    "route_time": Why(
        title=_("Time and cost of a wafer"),
        says=_("Removal over rate for each stage, with bonding, zeros, readings, cleaning and changes between them."),
        formula=_("T = Σ hᵢ/rᵢ + Σ fixed times,   K = Σ (w_m·t_m + w_p·t_p) + q + V·(1 − P)"),
        symbols=_(
            "hᵢ, rᵢ: removal and rate of stage i; w, t: price of an hour and time of machine and person; q: what each"
            " wafer uses up; V: value of a lost one; P: chance of keeping every limit"
        ),
        inputs=_("The route's stages and the prices in force; the Prices page holds them with their versions."),
        doubt=_("The interval is that of the rates; people and queues are not in it."),
        source=_("definition"),
        page="process",
    ),
    "damage": Why(
        title=_("Damage left, and minutes to polish"),
        says=_("Depth of cracks each stage leaves, less what later stages took; polishing goes on until 1 % is left."),
        formula=_("P(left) = 1 − E[Π P(dₖ ≤ Rₖ + r·T)],   at depth x after a stage: P = Π P(dₖ ≤ x + Rₖ)"),
        symbols=_(
            "dₖ: depth left by stage k, lognormal with median d and deviation s_d of its logarithm; Rₖ: removed since;"
            " r: rate of the polish, lognormal, too; T: its time"
        ),
        inputs=_("The stages done with their removal, the library's depth of damage, and the rate of the polish."),
        doubt=_("Depths in the library hold within a factor of about two; your own taper polish tells more."),
        source=_(
            "Lambropoulos 2000 (from memory), Suratwala 2019 (abstract), formulas 2.2 and 2.3 of the documentation;"
            " product of independent chances"
        ),
        page="process",
    ),
    "plate": Why(
        title=_("Shape of a plate"),
        says=_("Height of the plate's middle over its rim, from dial readings along a bar or from a lapped wafer."),
        formula=_("h = a + b·x − S·(x/R)²,   wafer: s = −S·(D/2R)²"),
        symbols=_("S: dome of the plate; R: its radius; D: diameter of the wafer"),
        inputs=_("The checks in the history below."),
        doubt=_(
            "Scatter of the readings and of the bar; a plate that is no single cap leaves a residual, and it is told."
        ),
        source=_("least squares; sagitta of a sphere, formula 5.3 of the documentation"),
        page="process",
    ),
    "sliding": Why(
        title=_("Sliding speed"),
        says=_("Mean speed between plate and a place of the wafer over all angles of jig and plate."),
        formula="v = (2/π)·(a + b)·E(4ab/(a + b)²),   a = ω_p·e,   b = |ω_p − ω_j|·r",
        symbols=_("ω: speeds of plate and jig; e: offset; r: radius on the wafer; E: complete elliptic integral"),
        inputs=_("Speeds, offset and sweep as entered."),
        doubt=_("Rigid motion; slip of the jig is not in it."),
        source=_("derived, formula 4.2 of the documentation; elliptic integrals: Abramowitz and Stegun, 17.3.3"),
        page="process",
    ),
    "breakage": Why(
        title=_("Chance of breakage"),
        says=_("How likely a wafer of this thickness and finish breaks in the step, from its stress and its flaws."),
        formula="P = 1 − Π exp(−(A/A₀)·(σ/σ₀)^m)",
        symbols=_(
            "σ: stress of each thing done; A: area under it; σ₀, m: strength and its spread by finish; the chance is"
            " the mean over the band in which the strength is known"
        ),
        inputs=_("Thickness, diameter, finish and material; the published strengths are named in the library."),
        doubt=_("Order of magnitude only; handling that nobody planned is not in it."),
        source=_("Weibull 1951, formula 10.2 of the documentation"),
        page="process",
    ),
    "stock": Why(
        title=_("When to order"),
        says=_(
            "The day on which the stock falls to what the delivery time may use up, the work in hand taken off first."
        ),
        formula=_("order at S = planned + μ·L + z·s·√L,   in (left − S)/μ days"),
        symbols=_("μ, s: use a day and its deviation; L: days of delivery; z: for 19 of 20 cases"),
        inputs=_(
            "Feed of the lot times the cutting time of each run, what was taken by hand, and the stages that wait."
        ),
        doubt=_("For days that do not hang together; work that comes in campaigns empties a shelf sooner."),
        source=_("Silver, Pyke and Thomas, chapter 6 (from memory)"),
        page="process",
    ),
    "bond_wedge": Why(
        title=_("Wedge of the bond"),
        says=_(
            "Rise of the best plane through the adhesive over the full diameter; the wafer inherits it the other way."
        ),
        formula="b = b₀ + a·x + c·y,   W = D·√(a² + c²)",
        symbols=_("b: adhesive at a site; x, y: its place in the wafer frame; D: full diameter"),
        inputs=_("The three sets named on the page of the bond."),
        doubt=_("What differs from site to site adds in squares; an error common to the gauge cancels."),
        source=_("least squares"),
        page="thickness",
    ),
}
