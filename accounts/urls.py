"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from accounts import api
from accounts.views import account, language, members

pages: list = [
    path("account/me/", account.AccountPage.as_view(), name="account"),
    path("account/me/download/", account.DownloadPage.as_view(), name="account-download"),
    path("account/me/leave/", account.LeavePage.as_view(), name="account-leave"),
    path("account/me/gardens/", account.GardensPage.as_view(), name="account-gardens"),
    path("account/me/gardens/add/", account.GardenAddPage.as_view(), name="account-garden-add"),
    path(
        "account/me/gardens/<int:pk>/",
        account.GardenEditPage.as_view(),
        name="account-garden-edit",
    ),
    path(
        "account/me/gardens/<int:pk>/remove/",
        account.GardenRemovePage.as_view(),
        name="account-garden-remove",
    ),
    path("account/me/tokens/", account.TokensPage.as_view(), name="account-tokens"),
    path(
        "account/me/tokens/<slug:token_key>/revoke/",
        account.TokenRevokePage.as_view(),
        name="account-token-revoke",
    ),
    path("language/", language.LanguagePage.as_view(), name="language"),
    path("account/invitation/<uuid:key>/", account.InvitationPage.as_view(), name="invitation"),
    path("members/", members.MembersPage.as_view(), name="members"),
    path("members/invite/", members.InvitePage.as_view(), name="member-invite"),
    path(
        "members/invitations/<int:pk>/withdraw/",
        members.InvitationWithdrawPage.as_view(),
        name="invitation-withdraw",
    ),
    path("members/<int:pk>/", members.MemberDetailPage.as_view(), name="member"),
    path("members/<int:pk>/approve/", members.ApprovePage.as_view(), name="member-approve"),
    path("members/<int:pk>/decline/", members.DeclinePage.as_view(), name="member-decline"),
    path("members/<int:pk>/role/", members.RolePage.as_view(), name="member-role"),
    path("members/<int:pk>/end/", members.EndPage.as_view(), name="member-end"),
    path("community/", members.CommunityPage.as_view(), name="community"),
]
resources: list = [("gardens", api.GardenViewSet, "garden")]
endpoints: list = [path("api/me/", api.MeView.as_view(), name="me")]
