"""A short seeded version of the campaign of routes."""

from lapwright.sim.route_trials import campaign


def test_routes_hold_what_they_state_and_beat_the_reference_practice():
    """Three orders, one shop each, 60 jobs: within five deviations of the chance stated; failures at most half."""
    tallies = campaign(shops=1, jobs=60, seed=5)
    jobs = sum(one.jobs for one in tallies)
    stated = sum(one.stated * one.jobs for one in tallies) / jobs
    kept = sum(one.kept for one in tallies) / jobs
    failed = jobs - sum(one.kept for one in tallies)
    reference = jobs - sum(one.reference_kept for one in tallies)

    assert abs(kept - stated) < 5 * (stated * (1 - stated) / jobs) ** 0.5
    assert 2 * failed <= reference
