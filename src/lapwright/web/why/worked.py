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
        source=_("geometry, derived"),
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
        formula=_("Δᵢ = (W·Rᵢ/D)·cos(βᵢ − φ),   divisions = Δᵢ/k"),
        symbols=_("W, φ: wedge and its direction; Rᵢ, βᵢ: radius and azimuth of adjuster i; k: travel of a division"),
        inputs=_("The last set of the wafer, the jig's geometry and how the wafer is mounted."),
        doubt=_("Travel of a division as drawn until moves on record have taught the true one and its play."),
        source=_("geometry"),
        page="process",
    ),
    "preset": Why(
        title=_("Preset"),
        says=_(
            "What to dial in so that the stop leaves the wafer at its height: removal wanted, less what the stop lags."
        ),
        formula=_("preset = contact − target − allowance"),
        symbols=_("contact: height at first touch, from the zero; allowance: lag and run-down of the stop"),
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
        formula=_("ln r = ln k + a·ln p + b·ln v + level + lot + plate + age + run"),
        symbols=_("p: pressure; v: speed; the rest: learned levels that shrink towards the library where runs are few"),
        inputs=_("The finished runs of this material, plate and abrasive; the Rates page names each."),
        doubt=_("The interval holds nine of ten runs; outlying runs are set aside and named."),
        source=_("Preston 1927 (from memory); linear regression with a prior"),
        page="process",
    ),
    "route_chance": Why(
        title=_("Chance of keeping every limit"),
        says=_("Share of imagined jobs by this route that end inside all limits, without damage and unbroken."),
        formula=_("P = kept jobs / imagined jobs"),
        symbols=_("drawn: rate, stop, wedge, form, damage, roughness, gauge, breakage"),
        inputs=_IMAGINED,
        doubt=_("As good as its assumptions; they stand on the Route page with how much hangs on each."),
        source=_("JCGM 101:2008 (propagation by drawing)"),
        page="process",
    ),
    "route_time": Why(
        title=_("Time and cost of a wafer"),
        says=_("Removal over rate for each stage, with bonding, zeros, readings, cleaning and changes between them."),
        formula=_("T = Σ hᵢ/rᵢ + Σ fixed times,   cost = Σ minutes·price + consumables + P(lost)·value"),
        symbols=_("hᵢ, rᵢ: removal and rate of stage i"),
        inputs=_("The route's stages and the prices in force; the Prices page holds them with their versions."),
        doubt=_("The interval is that of the rates; people and queues are not in it."),
        source=_("definition"),
        page="process",
    ),
    "damage": Why(
        title=_("Damage left, and minutes to polish"),
        says=_("Depth of cracks each stage leaves, less what later stages took; polishing goes on until 1 % is left."),
        formula=_("P(left) = P(max(dₖ − Σ hⱼ) > 0),   j later than k"),
        symbols=_("dₖ: depth left by stage k, a distribution; hⱼ: removal of stage j"),
        inputs=_("The stages done with their removal, the library's depth of damage, and the rate of the polish."),
        doubt=_("Depths in the library hold within a factor of about two; your own taper polish tells more."),
        source=_("Lambropoulos 2000 (from memory); Suratwala 2019 (abstract)"),
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
        source=_("least squares; sagitta of a sphere"),
        page="process",
    ),
    "sliding": Why(
        title=_("Sliding speed"),
        says=_("Mean speed between plate and a place of the wafer over all angles of jig and plate."),
        formula="v = (2/π)·(a + b)·E(4ab/(a + b)²),   a = ω_p·e,   b = |ω_p − ω_j|·r",
        symbols=_("ω: speeds of plate and jig; e: offset; r: radius on the wafer; E: complete elliptic integral"),
        inputs=_("Speeds, offset and sweep as entered."),
        doubt=_("Rigid motion; slip of the jig is not in it."),
        source=_("derived; elliptic integrals: Abramowitz and Stegun, 17.3"),
        page="process",
    ),
    "breakage": Why(
        title=_("Chance of breakage"),
        says=_("How likely a wafer of this thickness and finish breaks in the step, from its stress and its flaws."),
        formula="P = 1 − exp(−(A/A₀)·(σ/σ₀)^m)",
        symbols=_("σ: stress; σ₀, m: strength and its spread by finish; A: stressed area"),
        inputs=_("Thickness, diameter, finish and material; the published strengths are named in the library."),
        doubt=_("Order of magnitude only; handling that nobody planned is not in it."),
        source="Weibull 1951",
        page="process",
    ),
    "stock": Why(
        title=_("When to order"),
        says=_(
            "The day on which the stock falls to what the delivery time may use up, the work in hand taken off first."
        ),
        formula=_("order at S = planned + μ·L + z·s·√L"),
        symbols=_("μ, s: use a day and its deviation; L: days of delivery; z: for 19 of 20 cases"),
        inputs=_(
            "Feed of the lot times the cutting time of each run, what was taken by hand, and the stages that wait."
        ),
        doubt=_("For days that do not hang together; work that comes in campaigns empties a shelf sooner."),
        source=_("Silver, Pyke and Thomas, chapter 6 (from memory)"),
        page="process",
    ),
}
