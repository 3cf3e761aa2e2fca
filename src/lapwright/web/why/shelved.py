"""Numbers of the bench, the shelf and the order: voids, stages, screws, ring, forms, lots, prices, dates."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from lapwright.web.why.entry import Why

SHELVED = {
    "squeeze": Why(
        title=_("Load, heat and minutes for a film"),
        says=_("How long a load squeezes a hot adhesive between two discs until the film has the thickness wanted."),
        formula="t = (3π·η·R^4/(4·F))·(1/h² − 1/h₀²)",
        symbols=_("η: viscosity at the temperature; R: radius; F: load; h₀, h: film at the start and at the end"),
        inputs=_("The wafer's diameter, the film asked for, and the adhesive's viscosities in the library."),
        doubt=_("Real films come out within a factor of two: grains, tilt and temperature are not in it."),
        source=_("Stefan 1874 (from memory), formula 6.2 of the documentation"),
        page="process",
    ),
    "cooling_bow": Why(
        title=_("Bow and stress of the cooled stack"),
        says=_(
            "Layers that shrink by different amounts bend each other when the stack cools from where the adhesive sets."
        ),
        formula="(N, M) = (A, B; B, D)·(ε, κ),   σ = Q·(ε + z·κ − α·ΔT),   bow = κ·d²/8",
        symbols=_(
            "A, B, D: stiffness of all layers together; ε, κ: stretch and curvature; Q, α: stiffness and expansion; d:"
            " diameter"
        ),
        inputs=_("The layers with their thickness, and stiffness and expansion in the library."),
        doubt=_("An upper bound, for a bond that does not give way; a soft wax relaxes most of it."),
        source=_("laminated plates; two layers: Timoshenko 1925 (from memory), formula 6.7 of the documentation"),
        page="process",
    ),
    "take_off": Why(
        title=_("What to take off"),
        says=_("Thickness at the centre now, less the thickness that the stage is to leave."),
        formula=_("h = t − removed since − thickness after the stage"),
        symbols=_("t: thickness by the last set, on the carrier the stack less what lies under the wafer"),
        inputs=_("The last set of the wafer, what the jig's gauge told since, and the stage of the chosen route."),
        doubt=_("That of the last set; what the gauge told since adds its own."),
        source=_("definition"),
        page="process",
    ),
    "quotation": Why(
        title=_("Price of an order"),
        says=_(
            "Hours and consumables of every wafer begun, with overhead, and what the lost ones cost; drawn many times."
        ),
        formula="C = (1 + o)·[w_p·s·H + n·(q + Σ(w_p·p_k·H + w_k·m_k·e^{−σL}))] + v·X",
        symbols=_(
            "o: overhead; w: prices of an hour; s: set-up; p, m: a person's and the machine's time; H, L: luck of hands"
            " and of a cut; n: wafers begun; q: what each uses up; v, X: value and number of lost ones"
        ),
        inputs=_("The route, the prices of the version named, and how many own wafers passed and did not."),
        doubt=_("As good as the rates and the yield; waiting for other orders is in the dates, not in the sum."),
        source=_("definition; yield: Gelman et al. 2013, 2.4"),
        page="process",
    ),
    "promise": Why(
        title=_("Chance of a date"),
        says=_("Share of plays of the schedule that end by the date; in each, tasks take as long as chance has it."),
        formula=_("P = plays in time / plays,   t = t_m·exp(s·Z + s_c·Z_c)"),
        symbols=_(
            "t_m: median length of a task; s, s_c: deviation of its logarithm, its own and that of its rate; Z: luck"
        ),
        inputs=_("The schedule in force, the hours of the shop, and how well each task's length is known."),
        doubt=_("Breakdowns, sick leave and orders not received yet are not in it."),
        source=_("JCGM 101:2008, 7.2 to 7.6 (propagation by drawing)"),
        page="process",
    ),
    "voids": Why(
        title=_("Dimple over a void"),
        says=_("The wafer sags over a void while it is cut and springs back: there it stays too thick by so much."),
        formula="w = p·a^4/(64·D),   D = E·t³/(12·(1 − ν²))",
        symbols=_("p: pressure; a: half of the longest void; D: stiffness of the wafer; t: its thickness"),
        inputs=_("The voids seen in the photograph, the order's thickness, and the wafer's stiffness in the library."),
        doubt=_("A long void sags less than a round one of its length. Dust and labels are seen as voids, too."),
        source=_(
            "clamped disc: Timoshenko and Woinowsky-Krieger 1959 (from memory), formula 10.5 of the documentation"
        ),
        page="process",
    ),
    "stages": Why(
        title=_("What a stage takes, and its preset"),
        says=_("Thickness before a stage less the thickness after it, as the chosen route lays it out for this wafer."),
        formula=_("h = before − after,   preset from the datum named, less the allowance"),
        symbols=_("allowance: what is left for lag and run-down of the stop"),
        inputs=_("The chosen route and the wafer's reading when it was laid out."),
        doubt=_("The plan; what a run really took stands with the run."),
        source=_("definition; stage budget: formula 2.4 of the documentation"),
        page="process",
    ),
    "screws": Why(
        title=_("What a screw really moves"),
        says=_(
            "The wedge before and after each move says what its divisions moved; all moves together teach each screw."
        ),
        formula="ΔW = −D·Σ gᵢ·kᵢ·n′ᵢ",
        symbols=_(
            "ΔW: change of the wedge; gᵢ: geometry of screw i; kᵢ: travel of a division; n′ᵢ: divisions less play"
        ),
        inputs=_("The moves of the jig and the sets read before and after them."),
        doubt=_("Pulled towards the nominal travel while moves are few."),
        source=_("derived; ridge towards the nominal: “travel of an adjuster” on the page of formulas"),
        page="process",
    ),
    "ring": Why(
        title=_("Where the ring goes"),
        says=_("The plate wears where the ring rubs, more outside or more inside by its place. How fast is learned."),
        formula="ΔS = K·Σ(g′(e_i)·t_i + α·τ·(s_i − s_{i−1})),   g′(e) = g(e − δ)·e^{λ(e − δ − e₀)}",
        symbols=_(
            "K: speed of wear; g: law of wear at ring place e; t: time there; δ, λ: how the true neutral place and the"
            " lean differ; α, τ: haste after a move; s: trend reached"
        ),
        inputs=_("The checks of the plate, the places of its ring, and its limit."),
        doubt=_("An interval of 90 % stands with what is expected; a look on the way is asked for where it is wide."),
        source=_("derived; formula 4.5 and “ring advice” on the page of formulas"),
        page="process",
    ),
    "form_sources": Why(
        title=_("What the wafers share"),
        says=_("How much likelier the forms of the wafers are when one plate, jig or bond gives them a form."),
        formula="ln B = (b^T·Σ·b − ln(|Σ₀|/|Σ|))/2",
        symbols=_("b: pull of the values weighed by their uncertainty; Σ₀, Σ: spread of a source before and after"),
        inputs=_("Wedge and dome of the last finished wafers, with jig and plate of their last lap."),
        doubt=_("It names what is shared, not why; 0.3 µm from wafer to wafer is taken as nobody's."),
        source=_("Bayes factor of a linear model; “source of a form” on the page of formulas"),
        page="process",
    ),
    "lot_left": Why(
        title=_("What is left of a lot"),
        says=_("What came, less what runs, bonds and hands took since; a count sets it anew."),
        formula=_("left = came − Σ feed·time − Σ per bond − by hand"),
        symbols=_("feed: what a minute of cutting takes, as entered with the lot"),
        inputs=_("The runs and bonds that name the lot, and what was recorded by hand."),
        doubt=_("As good as the feed entered."),
        source=_("definition"),
        page="process",
    ),
    "odd_option": Why(
        title=_("What can be done with an odd wafer"),
        says=_("A rework by imagined jobs from its present thickness; reading again by the budget of its last set."),
        formula=_("rework: P = kept jobs / imagined jobs;   again: P = F((T_U − y)/u) − F((T_L − y)/u)"),
        symbols=_("y: value read last; u: its uncertainty with so many repeats; T: limits"),
        inputs=_("The last set, the order's limits and value, and the routes from its present thickness."),
        doubt=_("A dash is not known; what the customer would say is nobody's to compute."),
        source=_("JCGM 101:2008, 7.2 to 7.6; JCGM 106:2012, 7.3"),
        page="process",
    ),
    "partner": Why(
        title=_("Best turn of a carrier"),
        says=_("A carrier is turned until its thick edge lies under the thin one of wafer and bond together."),
        formula="θ = arg(w + b) + π − arg c,   wedge then = ||w + b| − |c||,   with the bond = √(wedge² + 2σ²)",
        symbols=_("w, b, c: wedges of wafer, bond and carrier as vectors; σ: scatter of the bond's wedge, each way"),
        inputs=_("The last sets of the wafer and of each free carrier, and the wedges of the last bonds."),
        doubt=_("The bond's own wedge is not known before it is made; its scatter stands with each carrier."),
        source=_("triangle inequality; “best turn of a carrier” on the page of formulas"),
        page="process",
    ),
}
