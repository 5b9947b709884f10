"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from library.lending.api.deposits import DepositViewSet
from library.lending.api.loans import LoanViewSet
from library.lending.api.returns import ReturnViewSet

pages: list = []
resources: list = [
    ("loans", LoanViewSet, "api-loan"),
    ("deposits", DepositViewSet, "api-deposit"),
    ("returns", ReturnViewSet, "api-return"),
]
endpoints: list = []
