"""What logs teach: hidden offsets found within the stated intervals, the Gaussian part against a statistics library."""

from __future__ import annotations

import dataclasses

import numpy as np
import numpy.typing as npt
import pytest
import statsmodels.api
from scipy import integrate, stats

from pipeline.review import likelihood
from pipeline.review.learning import Before, learn, prior_precision
from pipeline.review.periods import GUESSED_COUNTS_FOR, none_told
from tests.conftest import Outside
from tests.link.contacts import chance_of_contact
from tests.review.stories import NEEDED, TRIES, only_reports, play, without_reports

FloatArray = npt.NDArray[np.float64]

WORLDS = 30
# Strong and weak signals, logs with many failures that have nothing to do with signals, logs full of slips.
LOGS = {
    "strong": {"margins_db": (2.0, 12.0)},
    "mixed": {"margins_db": (-4.0, 8.0)},
    "weak": {"margins_db": (-6.0, 2.0)},
    "few": {"margins_db": (-4.0, 8.0), "each": 1},
    "unlucky": {"margins_db": (-4.0, 8.0), "other_reasons": 0.25},
    "careless": {"margins_db": (-4.0, 8.0), "wild": 0.1},
}
# Presence as it is told, evenings all alike.
TOLD = Before(presence_known=True, evening_db=0.0)
# The derivatives are numeric, their step a hundredth of a decibel.
ten_microdecibels = 1e-5


@pytest.mark.parametrize("kind", LOGS)
def test_hidden_offsets_lie_within_the_stated_intervals(kind: str, outside: Outside) -> None:
    """Of 12 sides in each of 30 worlds nine in ten lie within 1.645 standard deviations, and nothing is biased.

    Sides of one world hang together; the bound counts two of them as independent: four standard deviations of a
    binomial of 60 are 15 %.
    """
    misses, errors, stated = [], [], []
    for seed in range(WORLDS):
        story = play(seed, **LOGS[kind])
        learnt = learn(story.attempts, story.transmit_db.size)
        error, deviation = learnt.mean_db - story.sides_db, np.sqrt(np.diag(learnt.covariance_db2))
        misses.append(error / deviation)
        errors.append(error)
        stated.append(deviation)
    scaled = np.array(misses)
    within = np.mean(np.abs(scaled) < stats.norm.ppf(0.95))
    assert within == pytest.approx(0.9, abs=4.0 * np.sqrt(0.9 * 0.1 / (2 * WORLDS)))
    assert np.sqrt(np.mean(scaled**2)) == pytest.approx(1.0, abs=0.15)
    # A world's mean error has a spread of about half a decibel: home's sides are in all of them.
    assert abs(np.mean(errors)) < 4.0 * np.std(np.mean(errors, axis=1)) / np.sqrt(WORLDS)
    assert np.sqrt(np.mean(np.square(errors))) < np.sqrt(2.0)
    outside("the chance's story played backwards", scaled.size, f"{abs(within - 0.9):.3f} of coverage", "sides")


def test_ways_are_known_better_than_their_sides() -> None:
    """A pair that was heard often: the sum of the two sides is sharp where each side is not, and it is right.

    As often as the coarse grid of ways serves; the fine one, which takes thirty times as long, serves a log of one
    partner below.
    """
    misses = []
    for seed in range(WORLDS):
        story = play(seed, (8.0, 14.0), partners=2, each=12)
        learnt = learn(story.attempts, 3)
        value, deviation = learnt.way(0, 1)
        misses.append((value - story.transmit_db[0] - story.receive_db[1]) / deviation)
        assert deviation < 0.7 < 1.2 < np.hypot(learnt.side(0, False)[1], learnt.side(1, True)[1])
    assert np.sqrt(np.mean(np.square(misses))) == pytest.approx(1.0, abs=4.0 / np.sqrt(2 * WORLDS))


def test_before_any_log_a_way_is_as_the_chance_takes_it() -> None:
    """2 dB each way, correlation 1/2 between the two ways of a pair (physics of the chance, DEVELOPERS.md)."""
    learnt = learn(only_reports([], [], []), 3)
    assert learnt.way(0, 1) == pytest.approx((0.0, 2.0), abs=1e-9)
    there, back = np.zeros(6), np.zeros(6)
    there[[0, 3]] = back[[2, 1]] = 1.0
    assert there @ learnt.covariance_db2 @ back == pytest.approx(0.5 * 2.0**2)


@pytest.fixture
def no_slips(monkeypatch: pytest.MonkeyPatch) -> None:
    """All reports are sound, so that the model is Gaussian throughout."""
    monkeypatch.setattr(likelihood, "WILD_SHARE", 1e-300)


@pytest.mark.usefixtures("no_slips")
@pytest.mark.parametrize("seed", range(4))
def test_reports_alone_against_generalized_least_squares(seed: int, outside: Outside) -> None:
    """With sound reports only, the posterior is that of `statsmodels` with the prior as further observations."""
    random = np.random.default_rng(seed)
    partner = random.integers(1, 5, 17)
    residuals = random.normal(0.0, 3.0, (2, 17))
    residuals[0, 3] = residuals[1, 5] = np.nan
    learnt = learn(only_reports(partner, *residuals), 5, Before(scatter_db=2.0, evening_db=0.0))
    rows, values = [], []
    for way in (0, 1):
        for index, value in zip(partner, residuals[way], strict=True):
            if np.isfinite(value):
                row = np.zeros(10)
                row[[0, 2 * index + 1] if way == 0 else [2 * index, 1]] = 1.0
                rows.append(row)
                values.append(value)
    spread = np.zeros((len(values) + 10, len(values) + 10))
    spread[: len(values), : len(values)] = 4.0 * np.eye(len(values))
    spread[len(values) :, len(values) :] = np.linalg.inv(prior_precision(5))
    design = np.vstack([rows, np.eye(10)])
    fit = statsmodels.api.GLS(np.concatenate([values, np.zeros(10)]), design, sigma=spread).fit()
    worst = float(np.abs(learnt.mean_db - fit.params).max())
    assert worst < ten_microdecibels
    assert learnt.covariance_db2 == pytest.approx(fit.normalized_cov_params, abs=1e-5)
    outside("statsmodels GLS", 10, f"{worst:.2g} dB", "sides")


def test_one_wild_report_hardly_pulls() -> None:
    """Six reports as predicted, one 20 dB off: least squares would move by more than 1.5 dB, this by less than 0.2."""
    sound = only_reports([1] * 6, 0.0, 0.0)
    spoilt = only_reports([1] * 7, [0.0] * 6 + [20.0], [0.0] * 6 + [np.nan])
    before, after = (learn(one, 2).way(0, 1)[0] for one in (sound, spoilt))
    assert abs(after - before) < 0.2
    assert 20.0 / 8.0 > 1.5


def test_two_reports_that_agree_are_believed() -> None:
    """What looks wild alone is no slip when it comes twice: both ways 6 dB better, five times."""
    learnt = learn(only_reports([1] * 5, 6.0, 6.0), 2)
    assert learnt.way(0, 1)[0] > 4.5


def test_reports_of_weak_signals_are_the_lucky_ones() -> None:
    """At a margin of -3 dB only upward fades decode: a report 3 dB above the prediction is what one expects."""
    weak = without_reports([1] * 6, -3.0, True)
    weak = dataclasses.replace(weak, residual_at_partner_db=np.full(6, 3.0))
    strong = only_reports([1] * 6, 3.0, np.nan)
    silent = without_reports([1] * 6, -3.0, True)
    by_strong, by_weak, by_contacts = (learn(one, 2, TOLD).way(0, 1)[0] for one in (strong, weak, silent))
    assert by_strong > 2.0
    # That contacts came about at all says more than the reports, which add nothing to it.
    assert by_weak < by_contacts + 0.2
    assert by_weak < by_strong - 0.5


def test_a_failure_teaches_little_and_never_without_end() -> None:
    """One failure at a good margin may have any reason; ten of them can not. At a poor margin nothing is learnt."""
    once, often, hopeless = (
        learn(without_reports([1] * count, margin, False), 2, TOLD).way(0, 1)[0]
        for count, margin in ((1, 4.0), (10, 4.0), (3, -15.0))
    )
    assert -0.6 < once <= 0.0
    assert -8.0 < often < -2.0
    assert abs(hopeless) < 0.05


def test_a_contact_against_the_odds_lifts_both_ways() -> None:
    learnt = learn(without_reports([1, 1], -5.0, True), 2)
    assert learnt.way(0, 1)[0] == pytest.approx(learnt.way(1, 0)[0])
    assert 1.5 < learnt.way(0, 1)[0] < 5.0


def test_heard_without_a_figure_tells_of_the_way_to_home() -> None:
    """Heard but not completed at a margin of -6 dB: the way to home is better than thought, and the other one by less
    than half as much: a good dish serves both, but no contact came of it. Silence at a margin of 3 dB, time and again,
    is the other way round, and tells nothing else of the other way.
    """
    heard = learn(without_reports([1] * 3, -6.0, False, 1.0), 2)
    assert heard.way(1, 0)[0] > 1.0
    assert 0.5 < heard.way(0, 1)[0] < heard.way(1, 0)[0] / 2.0
    silent = learn(without_reports([1] * 12, 3.0, False, 0.0), 2, TOLD)
    assert silent.way(1, 0)[0] < -2.0
    assert silent.way(0, 1)[0] == pytest.approx(silent.way(1, 0)[0] / 2.0, rel=0.01)


def test_lopsided_logs_against_sides_drawn_at_random(outside: Outside) -> None:
    """Silence, contacts by ear and half a contact leave a posterior that is no bell: means and deviations are those of
    sides drawn from what is believed before and weighed by the story told in `scipy.stats` and `log_contact`.
    """
    random = np.random.default_rng(11)
    # Drawn twice as wide, so that the tails are visited too, and weighed back.
    drawn = random.multivariate_normal(np.zeros(4), 4.0 * np.linalg.inv(prior_precision(2)), 100_000)
    believed = np.exp(-0.5 * (1.0 - 1.0 / 4.0) * np.einsum("ni,ij,nj->n", drawn, prior_precision(2), drawn))
    there, here = drawn[:, 0] + drawn[:, 3], drawn[:, 2] + drawn[:, 1]
    worst = 0.0
    for margin, completed, heard, count in (
        (3.0, 0, 0.0, 6),
        (-1.0, 1, 1.0, 6),
        (-4.0, 0, 1.0, 4),
        (-1.0, 0, np.nan, 1),
    ):
        once = stats.binom.sf(0, TRIES, stats.norm.cdf((margin + here) / 1.5))
        contact = np.exp(likelihood.log_contact(margin + there, margin + here, TRIES, NEEDED))
        if completed:
            one = 0.99 * contact + 0.01
        elif heard == 0.0:
            one = 0.15 + 0.85 * (1.0 - once)
        else:
            known = once if heard == 1.0 else np.ones_like(once)
            one = 0.15 * known + 0.85 * (known - contact)
        weight = believed * np.clip(one, 0.0, 1.0) ** count
        weight /= weight.sum()
        mean = weight @ drawn
        deviation = np.sqrt(weight @ (drawn - mean) ** 2)
        learnt = learn(without_reports([1] * count, margin, completed, heard), 2, TOLD)
        worst = max(worst, float(np.abs(learnt.mean_db - mean).max()))
        assert learnt.mean_db == pytest.approx(mean, abs=0.1)
        assert np.sqrt(np.diag(learnt.covariance_db2)) == pytest.approx(deviation, abs=0.1)
    outside("sides drawn at random", 16, f"{worst:.2f} dB", "sides")


def test_a_log_of_one_partner_never_claims_to_know_all() -> None:
    """Three hundred reports alike: fine grids hold, and no more is claimed than sixty of them would."""
    many, sixty = (learn(only_reports([1] * count, 1.0, 1.0), 2) for count in (300, 60))
    assert many.way(0, 1) == pytest.approx(sixty.way(0, 1), abs=0.02)
    assert many.way(0, 1)[0] == pytest.approx(1.0, abs=0.02)
    assert 0.1 < many.way(0, 1)[1] < 0.3


def test_nothing_depends_on_the_order_of_the_log() -> None:
    story = play(7, (-4.0, 8.0))
    shuffled = np.random.default_rng(1).permutation(story.attempts.partner.size)
    turned = type(story.attempts)(
        **{name: values[shuffled] for name, values in vars(story.attempts).items() if values is not None}
    )
    there, back = learn(story.attempts, 6), learn(turned, 6)
    assert there.mean_db == pytest.approx(back.mean_db, abs=1e-4)
    assert there.scatter_db == pytest.approx(back.scatter_db, abs=1e-4)


def test_the_scatter_follows_the_log() -> None:
    """Sixty reports that scatter by 4 dB widen the intervals; sixty that scatter by 1 dB do not make them absurd."""
    random = np.random.default_rng(3)
    scatters = [
        learn(only_reports([1] * 30, *random.normal(0.0, spread, (2, 30))), 2, TOLD).scatter_db for spread in (1.0, 4.0)
    ]
    assert 1.2 < scatters[0] < 1.8
    assert 3.0 < scatters[1] < 4.2


@pytest.mark.usefixtures("no_slips")
def test_guessed_reports_say_less_of_the_scatter() -> None:
    """Thirty reports each way that alternate by 4 dB about their middle, 2 dB as twenty reports more: by hand.

    Without slips, and with the way known to lie in the middle, the square is (20 * 4 + w * 60 * 16) / (20 + w * 60).
    """
    reports = only_reports([1] * 30, np.tile([4.0, -4.0], 15), np.tile([-4.0, 4.0], 15))
    for marked, counts in ((False, 1.0), (True, GUESSED_COUNTS_FOR)):
        told = dataclasses.replace(
            reports, periods=dataclasses.replace(none_told(30), guessed=np.full((2, 30), marked))
        )
        byhand = np.sqrt((20.0 * 4.0 + counts * 60.0 * 16.0) / (20.0 + counts * 60.0))
        assert learn(told, 2, TOLD).scatter_db == pytest.approx(byhand, abs=0.12)


@pytest.mark.parametrize(("margin_db", "error_db"), [(5.0, 0.0), (0.0, 1.0), (-4.0, -1.0), (-3.0, 3.0)])
def test_the_density_of_a_report_is_one(margin_db: float, error_db: float, outside: Outside) -> None:
    """Given that its period decoded, a sound report is somewhere (quadrature of `scipy`), and where a play puts it."""

    def density(residual_db: FloatArray) -> FloatArray:
        margin, error = np.full_like(residual_db, margin_db), np.full_like(residual_db, error_db)
        return np.exp(likelihood._log_report(residual_db, margin, error, 2.0))

    whole = integrate.quad(lambda at: float(density(np.array([at]))[0]), -20.0, 20.0)[0]
    assert whole == pytest.approx(1.0, abs=1e-6)
    random = np.random.default_rng(5)
    fade = random.normal(0.0, 1.5, 400_000)
    heard = fade[margin_db + error_db + fade > 0.0]
    reports = error_db + heard + random.normal(0.0, np.sqrt(4.0 - 1.5**2), heard.size)
    axis = np.linspace(-20.0, 20.0, 8001)
    mean = float(np.sum(axis * density(axis)) * (axis[1] - axis[0]))
    assert mean == pytest.approx(float(reports.mean()), abs=5.0 * float(reports.std()) / np.sqrt(heard.size))
    outside("scipy quadrature", 1, f"{abs(whole - 1.0):.1g} of a probability", "densities")


@pytest.mark.parametrize("rounds", [5, 15, 30])
def test_a_contact_is_as_likely_as_the_chance_says(rounds: int) -> None:
    """`link.chance`, which a play of the same story checks, at fixed levels and without doubt about the stations."""
    random = np.random.default_rng(rounds)
    there, here = random.uniform(-5.0, 3.0, (2, 40))
    found = np.exp(likelihood.log_contact(there, here, rounds, NEEDED))
    margins = [np.repeat(level[:, None], 2 * rounds, axis=1) for level in (there, here)]
    # Which is in single precision.
    expected = chance_of_contact(*margins, 2 * NEEDED, 0.0)
    assert found == pytest.approx(expected, abs=1e-6)
    there, here = np.sort(there), np.sort(here)
    exact = np.exp(likelihood.log_contact(there[:, None], here, rounds, NEEDED))
    assert likelihood._contact(there, here, rounds, NEEDED) == pytest.approx(exact, abs=2e-4)


def test_reports_of_doubtful_minutes_count_less() -> None:
    """Near the horizon two minutes are decibels: such reports move the result less than those of steady ones."""
    steady = only_reports([1] * 4, 4.0, np.nan)
    steep = dataclasses.replace(steady, doubt_at_partner_db=np.full(4, 5.0))
    assert 0.2 < learn(steep, 2).way(0, 1)[0] < learn(steady, 2).way(0, 1)[0] - 1.0


def test_decodes_against_the_binomial_tail(outside: Outside) -> None:
    """`scipy.stats.binom` where it does not underflow; far below, the first term of the tail."""
    level = np.array([-12.0, -6.0, -3.0, -1.0, 0.0, 2.0, 5.0])
    tries, needed = np.full(level.size, TRIES), np.full(level.size, NEEDED)
    found = likelihood._log_decodes(level, tries, needed)
    expected = stats.binom.logsf(NEEDED - 1, TRIES, stats.norm.cdf(level / 1.5))
    assert found == pytest.approx(expected, abs=1e-9)
    far = likelihood._log_decodes(np.array([-60.0, -59.0]), tries[:2], needed[:2])
    assert np.isfinite(far).all()
    assert far[0] < far[1] < -1000.0
    outside("scipy binomial", level.size, f"{np.abs(found - expected).max():.1g} of a logarithm", "tails")


@pytest.mark.parametrize("margin_db", [-6.0, -2.0, 0.0, 4.0])
def test_luck_of_weak_signals(margin_db: float, outside: Outside) -> None:
    """The mean of a normal cut off below is that of `scipy.stats.truncnorm`; without a margin there is none."""
    found = float(likelihood.luck_db(np.array([margin_db - 1.0]), np.array([1.0]))[0])
    expected = float(stats.truncnorm.mean(-margin_db / 1.5, np.inf, scale=1.5))
    assert found == pytest.approx(expected, abs=1e-9)
    assert likelihood.luck_db(np.array([np.nan]), np.zeros(1)).tolist() == [0.0]
    outside("scipy truncnorm", 1, f"{abs(found - expected):.1g} dB", "means")


def test_presence_is_learnt_for_all_and_for_each() -> None:
    """Strong signals: one partner comes four times in ten, the other nine in ten, and the sides hardly move for it.

    Before any log the share believed stands; one failure among many slots moves it little.
    """
    partner = np.repeat([1, 2], 20)
    came = np.tile(np.arange(20) % 10, 2) < np.repeat([4, 9], 20)
    attempts = without_reports(partner, 10.0, came, np.where(came, 1.0, 0.0))
    attempts = dataclasses.replace(attempts, evening=np.tile(np.arange(20), 2))
    learnt = learn(attempts, 3, Before(presence=0.9))
    assert 0.4 < learnt.presence[1] < 0.65
    assert 0.8 < learnt.presence[2] < 0.93
    assert learnt.presence[1] < learnt.presence[0] < learnt.presence[2]
    assert learnt.slots.tolist() == pytest.approx([40.0, 20.0, 20.0], abs=0.5)
    assert abs(learnt.way(2, 0)[0]) < 0.7
    nothing = learn(only_reports([], [], []), 3, Before(presence=np.array([0.9, 0.5, 0.7])))
    assert nothing.presence.tolist() == pytest.approx([0.9, 0.5, 0.7])


def test_who_was_heard_was_there() -> None:
    """Strong signals, no contact: only where nobody was heard the share of presence falls."""
    heard, nobody = (without_reports([1] * 6, 9.0, False, value) for value in (1.0, 0.0))
    reported = dataclasses.replace(nobody, residual_at_home_db=np.zeros(6))
    shares = [learn(one, 2, Before(presence=0.9)).presence[1] for one in (heard, reported, nobody)]
    assert shares[:2] == pytest.approx([0.9, 0.9], abs=1e-9)
    assert shares[2] < 0.7


def test_an_end_that_was_not_there_says_nothing_of_signals() -> None:
    away = dataclasses.replace(without_reports([1] * 5, 2.0, False), absent=np.ones(5, dtype=bool))
    learnt = learn(away, 2, Before(presence=0.9))
    assert learnt.way(0, 1) == pytest.approx((0.0, 2.0), abs=1e-6)
    assert learnt.presence[1] < 0.65


def test_silent_slots_count_less_than_failures_and_never_as_contacts() -> None:
    """Good margins, six contacts and six more slots: told as failed, silent, or told as made."""
    count = 12
    made = np.arange(count) < 6
    failed = without_reports([1] * count, 1.0, made)
    silent = dataclasses.replace(failed, silent=~made)
    whole = without_reports([1] * count, 1.0, np.ones(count, dtype=bool))
    by_failed, by_silent, by_made = (learn(one, 2).presence[1] for one in (failed, silent, whole))
    assert by_failed <= by_silent < by_made - 0.1
    chances = [learn(one, 2).way(0, 1)[0] for one in (failed, silent, whole)]
    assert chances[0] - 0.05 <= chances[1] < chances[2]


def test_of_silent_slots_one_in_twenty_was_never_tried() -> None:
    """Strong signals, 34 contacts and 6 silences: 5.7 of these are empty chairs, not four and a third.

    The season's 0.9 counts for twenty slots: (18 + 34) / (20 + 39.7) by hand. Were one in twenty of all 40 slots never
    tried, a third of the silences would be none's, and the share 0.89.
    """
    made = np.arange(40) < 34
    told = dataclasses.replace(without_reports([1] * 40, 9.0, made), silent=~made)
    learnt = learn(told, 2, Before(presence=0.9, evening_db=0.0))
    assert learnt.slots[0] == pytest.approx(39.7, abs=0.1)
    assert learnt.presence[0] == pytest.approx(52.0 / 59.7, abs=0.004)


def test_partners_are_told_apart_where_the_log_tells_them_apart() -> None:
    """Nine of twelve there with each of three, or all, all and three: the odd one is believed only where it is odd."""
    partner = np.repeat([1, 2, 3], 12)
    within = np.tile(np.arange(12), 3)
    alike, apart = (
        learn(without_reports(partner, 9.0, within < limit), 4, Before(evening_db=0.0)).presence
        for limit in (9, np.repeat([12, 12, 3], 12))
    )
    assert np.ptp(alike[1:]) < 0.01
    assert alike[1] == pytest.approx(alike[0], abs=0.01)
    # 3 of 12 drawn by five to fifteen slots of all.
    assert apart[3] < 0.5
    assert apart[1] > 0.9


def test_contacts_of_a_log_that_tells_nothing_else_do_not_lift() -> None:
    """Contacts at poor margins lift both ways, unless the log would not have told of failures."""
    told = without_reports([1] * 8, -3.0, True)
    chosen = dataclasses.replace(told, chosen=np.ones(8, dtype=bool))
    assert learn(told, 2).way(0, 1)[0] > 1.0
    assert learn(chosen, 2).way(0, 1)[0] == pytest.approx(0.0, abs=1e-6)


def test_evenings_that_differ_are_told_from_reports_that_scatter() -> None:
    """Four reports an evening each way: alike within the evening and 2 dB apart from one to the next, or all mixed."""
    random = np.random.default_rng(8)
    evening = np.repeat(np.arange(12), 4)
    there, here = random.normal(0.0, 1.2, (2, evening.size))
    together = 2.0 * random.normal(0.0, 1.0, 12)[evening]
    widths = []
    for more in (0.0, together):
        attempts = only_reports([1] * evening.size, there + more, here + more)
        widths.append(learn(dataclasses.replace(attempts, evening=evening), 2).evening_db)
    assert widths[0] < 0.6
    assert 1.0 < widths[1] < 2.3


def test_one_bad_evening_of_home_hardly_pulls() -> None:
    """Six evenings with four partners as predicted; in a seventh all are 5 dB down. Without evenings home would fall
    further.
    """
    partner, evening = np.tile(np.arange(1, 5), 7), np.repeat(np.arange(7), 4)
    down = np.where(evening == 6, -5.0, 0.0)
    attempts = dataclasses.replace(only_reports(partner, down, down), evening=evening)
    learnt, alike = learn(attempts, 5), learn(attempts, 5, Before(evening_db=0.0))
    assert -0.35 < learnt.way(0, 1)[0] < 0.0
    assert alike.way(0, 1)[0] < learnt.way(0, 1)[0] - 0.1
