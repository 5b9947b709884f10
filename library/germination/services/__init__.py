"""What is done at the bench: each function is one transaction.

The row of a test orders all that is done to it: every service locks it first, then draws seed
(packets, then the lot's row) or settles the lot's next day (the lot's row).
"""

from library.germination.few_seeds import cost_of_plan, decision_so_far
from library.germination.results import TestResult, result_of
from library.germination.services.amending import amend_test, void_test
from library.germination.services.counting import (
    close_test,
    count_dish,
    finish_group,
    record_test,
)
from library.germination.services.counts import COUNTS
from library.germination.services.estimates import decide_shelf, drop_sowing, expect_sowing
from library.germination.services.many import plan_tests
from library.germination.services.planning import (
    MOST_IN_A_REPLICATE,
    MOST_REPLICATES,
    begin_test,
    plan_test,
    sow_more,
    start_test,
)
from library.germination.services.rules import expect_first_test, save_bench_rules

__all__ = [
    "COUNTS",
    "MOST_IN_A_REPLICATE",
    "MOST_REPLICATES",
    "TestResult",
    "amend_test",
    "begin_test",
    "close_test",
    "cost_of_plan",
    "count_dish",
    "decide_shelf",
    "decision_so_far",
    "drop_sowing",
    "expect_first_test",
    "expect_sowing",
    "finish_group",
    "plan_test",
    "plan_tests",
    "record_test",
    "result_of",
    "save_bench_rules",
    "sow_more",
    "start_test",
    "void_test",
]
