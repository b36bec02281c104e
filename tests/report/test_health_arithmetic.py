"""The arithmetic under health against numpy's dense one: what is known of a change given all that is measured."""

import math
import random
from types import SimpleNamespace

import numpy as np
import pytest

from halocline.report.health.bends import Bends, hinge
from halocline.report.health.courses import course_of, log_integral
from halocline.report.health.noise import SEA_DAYS, Column, Common, Noise, SeaRead, Whitener
from halocline.report.health.outlook import sea_is_off
from halocline.report.health.shapes import Shape
from halocline.report.health.stories import Effects, Share, Story, chapters

RUNS, NOW_H = 40, 82.0
HOURS = [2.0 * i + 1.0 for i in range(RUNS)]


def record(seed=3):
    """Whitener, columns and readings of a made record: an unknown level of each, a slow drift of each, noise."""
    rng = random.Random(seed)
    normals = [
        SimpleNamespace(slopes={"salinity": (-0.034, 0.053 + 0.001 * i)}, mix=((1.0, 0.02), (-0.1, 1.0)))
        for i in range(RUNS)
    ]
    whitener = Whitener(Noise(), [1.7 * i for i in range(RUNS)], normals)
    ones, slow = [1.0] * RUNS, [h / 500.0 for h in HOURS]
    columns = [
        Column("flow", ones, None, 1.0),
        Column("salt", None, ones, 1.0),
        Column("slow_flow", slow, None, 0.02),
        Column("slow_salt", None, slow, 0.03),
    ]
    y = ([rng.gauss(0.0, 0.01) for _ in HOURS], [rng.gauss(0.0, 0.02) for _ in HOURS])
    return whitener, columns, y


def test_bends_are_integrated_out_as_a_dense_fit_would():
    whitener, columns, y = record()
    shape, direction, amount = Shape("ramp", 20.0, NOW_H), (-0.1, 0.02), 0.5
    common = Common(whitener, columns, y)
    course = course_of(common, shape, shape.along(HOURS))
    near = Bends(common, HOURS, 0.0, NOW_H).beside(course)
    assert near is not None
    marginal, gained, _ = near.marginal(direction, amount)
    prior = (0.04, 0.0, 0.09)
    found, _, _ = log_integral(marginal, (0.0, 0.0), prior)
    along = shape.along(HOURS)
    with_all = [*columns, Column("u", along, None, 0.2), Column("w", None, along, 0.3)]
    for place in near.places_h:
        bend = [hinge(place, NOW_H, h) for h in HOURS]
        doubt = amount * (NOW_H - place) / (NOW_H - shape.onset_h)
        flow, salt = ([part * b for b in bend] for part in direction)
        with_all.append(Column("bend", flow, salt, doubt))
    dense = Common(whitener, with_all, y).log_evidence - common.log_evidence
    assert found + gained == pytest.approx(dense, abs=1e-9)


def test_what_is_read_of_the_sea_is_weighed_as_a_dense_fit_would():
    """A slow wandering acts on flow, on salt and on what people read of the sea: numpy's normal density of all three,
    with the covariances written out."""
    rng = random.Random(7)
    noise, days, reads = Noise(), [1.7 * i for i in range(RUNS)], [SeaRead(3, 0.4, 0.5), SeaRead(30, -0.6, 0.7)]
    by = [(-0.034, 0.053 + 0.001 * i) for i in range(RUNS)]
    normals = [SimpleNamespace(slopes={"salinity": each}, mix=((1.0, 0.02), (-0.1, 1.0))) for each in by]
    wave = [math.cos(math.pi * i / RUNS) for i in range(RUNS)]
    y = ([rng.gauss(0.0, 0.01) for _ in HOURS], [rng.gauss(0.0, 0.02) for _ in HOURS])
    columns = [
        Column("flow", [1.0] * RUNS, None, 1.0),
        Column("salt", None, [1.0] * RUNS, 1.0),
        Column(
            "sea",
            [u * s for (u, _), s in zip(by, wave, strict=True)],
            [w * s for (_, w), s in zip(by, wave, strict=True)],
            0.8,
            sea=wave,
        ),
    ]
    found = Common(Whitener(noise, days, normals, reads), columns, y).log_evidence

    # Rows: flow of each period, salt of each, each reading. Salinity is kept over days, and has a part of each run.
    kept = np.exp(-np.abs(np.subtract.outer(days, days)) / SEA_DAYS) * noise.sea_g_kg**2
    at = np.array([each.place for each in reads])
    u, w = np.array([each[0] for each in by]), np.array([each[1] for each in by])
    to_sea = np.vstack([np.diag(u), np.diag(w), np.eye(RUNS)[at]])
    covariance = to_sea @ kept @ to_sea.T
    to_run = np.vstack([np.diag(u), np.diag(w), np.zeros((len(at), RUNS))])
    covariance += noise.sea_run_g_kg**2 * to_run @ to_run.T
    (a, b), (c, d) = normals[0].mix
    meters = np.block([[a * np.eye(RUNS), b * np.eye(RUNS)], [c * np.eye(RUNS), d * np.eye(RUNS)]])
    own = np.diag([noise.flow**2] * RUNS + [noise.salt**2] * RUNS)
    covariance[: 2 * RUNS, : 2 * RUNS] += meters @ own @ meters.T
    covariance[2 * RUNS :, 2 * RUNS :] += np.diag([each.sd_g_kg**2 for each in reads])
    ones, none = np.ones(RUNS), np.zeros(RUNS)
    for column, sd in (
        (np.concatenate([ones, none, [0.0, 0.0]]), 1.0),
        (np.concatenate([none, ones, [0.0, 0.0]]), 1.0),
        (to_sea @ np.array(wave), 0.8),
    ):
        covariance += sd**2 * np.outer(column, column)
    all_read = np.array([*y[0], *y[1], *(each.over_g_kg for each in reads)])
    dense = -0.5 * (all_read @ np.linalg.solve(covariance, all_read) + np.linalg.slogdet(covariance)[1])
    assert found == pytest.approx(dense, abs=1e-6)


def test_draws_of_bends_scatter_as_their_precision_says():
    whitener, columns, y = record()
    shape = Shape("ramp", 20.0, NOW_H)
    common = Common(whitener, columns, y)
    near = Bends(common, HOURS, 0.0, NOW_H).beside(course_of(common, shape, shape.along(HOURS)))
    assert near is not None
    _, _, bent = near.marginal((-0.1, 0.02), 0.5)
    rng = random.Random(1)
    drawn = np.array([bent.drawn((-0.1, 0.02), [rng.gauss(0.0, 1.0) for _ in range(6)]) for _ in range(4000)])
    lower = np.array([[*row, *[0.0] * (len(bent.lower) - len(row))] for row in bent.lower])
    expected = np.linalg.inv(lower @ lower.T)
    assert np.cov(drawn.T) == pytest.approx(expected, abs=0.1 * float(np.max(expected)))
    assert bent.added(drawn[0], near.places_h[0]) == 0.0
    assert bent.added(drawn[0], NOW_H) == pytest.approx(float(np.sum(drawn[0])))


def test_what_a_scalar_says_of_a_cause_binds_flow_and_salt():
    """By numpy's block inverse: the conditional of a normal distribution (any textbook)."""
    effects = Effects(
        trend={"cell": (0.0, 1.0), "meter": (1.0, -0.1)},
        scalars={"cell": {"hand": 1.0}, "meter": {"tank": -1.0, "feed": 0.17}},
        told={},
    )
    story = Story("both", 0.1, ("ramp",), (0.2,), {"cell": Share(1.0, 0.3, 0.02), "meter": Share(0.5, 0.2, 0.01)})
    (chapter,) = chapters(effects, (story,))
    seen = {"hand": (1.0 / 0.03**2, 0.05 / 0.03**2), "tank": (1.0 / 0.01**2, -0.02 / 0.01**2)}
    gain, mean, (a, b, d) = chapter.given(seen)
    mu, cov = np.array(chapter.mean), np.array(chapter.covariance)
    at = [2 + chapter.scalars.index(name) for name in seen]
    value = np.array([weighted / precision for precision, weighted in seen.values()])
    noise = np.diag([1.0 / precision for precision, _ in seen.values()])
    inner = cov[np.ix_(at, at)] + noise
    pull = cov[:2, at] @ np.linalg.inv(inner)
    assert mean == pytest.approx(mu[:2] + pull @ (value - mu[at]))
    assert np.array([[a, b], [b, d]]) == pytest.approx(cov[:2, :2] - pull @ cov[at, :2])

    def log_density(off, of):
        return -0.5 * (off @ np.linalg.solve(of, off) + math.log(np.linalg.det(of)))

    assert gain == pytest.approx(log_density(value - mu[at], inner) - log_density(value, noise))


def test_a_cell_that_the_hand_meter_agrees_with_cannot_have_raised_the_salt():
    effects = Effects(trend={"cell": (0.0, 1.0)}, scalars={"cell": {"hand": 1.0}}, told={})
    (chapter,) = chapters(effects, (Story("drift", 0.1, ("ramp",), (0.2,), {"cell": Share(1.0)}),))
    gain, (_, salt), (_, _, variance) = chapter.given({"hand": (1.0 / 0.01**2, 0.0)})
    assert gain < -5.0
    assert abs(salt) < 0.02
    assert variance < 0.02**2


@pytest.mark.parametrize(("causes", "off"), [({"water"}, True), ({"water", "cell"}, False), ({"meter"}, False)])
def test_a_sea_is_taken_off_only_where_no_drift_of_a_sensor_is_in_the_figure(causes, off):
    """Fouling beside a drifted cell is called fouling, but its salt is as the cell reads it: not corrected."""
    story = SimpleNamespace(name="fouling", causes=dict.fromkeys(causes, Share(1.0)))
    wandering = SimpleNamespace(wanders=True, noise=Noise())
    sure = SimpleNamespace(weight=1.0, sea=wandering, chapter=SimpleNamespace(story=story))
    assert sea_is_off(SimpleNamespace(components=[sure])) is off


def test_a_sea_that_only_may_wander_is_not_taken_off():
    each = [
        SimpleNamespace(weight=weight, sea=SimpleNamespace(wanders=wanders, noise=Noise()), chapter=None)
        for weight, wanders in ((0.7, True), (0.3, False))
    ]
    assert not sea_is_off(SimpleNamespace(components=each))
