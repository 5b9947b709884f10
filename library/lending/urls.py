"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.lending.api.deposits import DepositViewSet
from library.lending.api.loans import LoanViewSet
from library.lending.api.returns import ReturnViewSet
from library.lending.api.table import TableViewSet
from library.lending.views import deposits, desk, loans, mine, returns, table

pages: list = [
    path("desk/", desk.DeskHomePage.as_view(), name="desk"),
    path("desk/members/", desk.MemberSuggestions.as_view(), name="desk-members"),
    path("desk/deposit/", deposits.DepositAtDeskPage.as_view(), name="deposit-at-desk"),
    path("desk/return/", returns.ReturnAtDeskPage.as_view(), name="return-at-desk"),
    path("table/", table.TablePage.as_view(), name="table"),
    path("table/seed/", table.SeedAtTable.as_view(), name="table-seed"),
    path("table/worker.js", table.worker, name="table-worker"),
    path("loans/new/", loans.LoanNewPage.as_view(), name="loan-new"),
    path("loans/<int:pk>/", loans.LoanPage.as_view(), name="loan"),
    path("loans/<int:pk>/close/", loans.LoanClosePage.as_view(), name="loan-close"),
    path("loans/<int:pk>/extend/", loans.LoanExtendPage.as_view(), name="loan-extend"),
    path("loans/<int:pk>/garden/", loans.LoanGardenPage.as_view(), name="loan-garden"),
    path("loans/<int:pk>/hand-over/", loans.HandOver.as_view(), name="loan-hand-over"),
    path("loans/<int:pk>/take-back/", loans.TakeBack.as_view(), name="loan-take-back"),
    path("loans/<int:pk>/cancel/", loans.CancelLoan.as_view(), name="loan-cancel"),
    path("returns/new/", returns.ReturnNewPage.as_view(), name="return-new"),
    path("returns/<int:pk>/", returns.ReturnPage.as_view(), name="return"),
    path(
        "returns/<int:pk>/receive/", returns.ReturnReceivePage.as_view(), name="return-receive"
    ),
    path(
        "returns/<int:pk>/withdraw/", returns.WithdrawReturn.as_view(), name="return-withdraw"
    ),
    path("deposits/new/", deposits.DepositNewPage.as_view(), name="deposit-new"),
    path("deposits/names/", deposits.NameSuggestions.as_view(), name="deposit-names"),
    path("deposits/<int:pk>/", deposits.DepositPage.as_view(), name="deposit"),
    path(
        "deposits/<int:pk>/receive/",
        deposits.DepositReceivePage.as_view(),
        name="deposit-receive",
    ),
    path(
        "deposits/<int:pk>/decline/",
        deposits.DepositDeclinePage.as_view(),
        name="deposit-decline",
    ),
    path(
        "deposits/<int:pk>/withdraw/",
        deposits.WithdrawDeposit.as_view(),
        name="deposit-withdraw",
    ),
    path("my-seed/", mine.MySeedPage.as_view(), name="my-seed"),
    path("exchange/", mine.ExchangeRulesPage.as_view(), name="exchange-rules"),
    path("lending/rules/", mine.LendingRulesPage.as_view(), name="lending-rules"),
]
resources: list = [
    ("loans", LoanViewSet, "api-loan"),
    ("deposits", DepositViewSet, "api-deposit"),
    ("returns", ReturnViewSet, "api-return"),
    ("table", TableViewSet, "api-table"),
]
endpoints: list = []
