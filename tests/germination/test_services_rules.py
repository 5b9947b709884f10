"""The library's own standard, its risks, and what a test may cost."""

from __future__ import annotations

import pytest

from library.errors import Refused
from library.germination import services
from library.germination.models import BenchRules


def test_a_rule_that_is_not_named_stays_as_it_is(coordinator):
    services.save_bench_rules(standard_percent=80, hold_until_tested=False, by=coordinator)

    rules = services.save_bench_rules(group_seeds=20, by=coordinator)

    rules.refresh_from_db()
    assert (rules.standard_percent, rules.hold_until_tested) == (80, False)
    assert (rules.group_seeds, rules.chance_percent) == (20, 80)


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("standard_percent", 1, 99),
        ("first_test_within_days", 1, 365),
        ("chance_percent", 50, 99),
        ("test_share_percent", 1, 50),
        ("risk_good_percent", 1, 40),
        ("risk_poor_percent", 1, 40),
        ("width_points", 5, 40),
        ("group_seeds", 5, 50),
    ],
)
def test_each_rule_has_its_range(coordinator, name, least, most):
    for value in (least, most):
        assert (
            getattr(services.save_bench_rules(by=coordinator, **{name: value}), name) == value
        )

    for value in (least - 1, most + 1, 7.5, None, True):
        with pytest.raises(Refused) as refusal:
            services.save_bench_rules(by=coordinator, **{name: value})
        assert refusal.value.field == name

    assert getattr(BenchRules.objects.get(), name) == most


def test_a_rule_that_the_bench_does_not_have_is_refused(coordinator):
    with pytest.raises(Refused) as refusal:
        services.save_bench_rules(by=coordinator, colour="red")

    assert str(refusal.value) == "The bench has no rule called colour."
