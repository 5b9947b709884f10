"""What belongs to no one app: home, the API's own pages, what is due."""

from __future__ import annotations

from urllib.parse import urlsplit

from library.reminders.stopping import stop_link

TABLE = """
route      method anon  appl  other owner desk  coord admin
home       GET    200   200   200   200   200   200   200
favicon    GET    302   302   302   302   302   302   302
health     GET    200   200   200   200   200   200   200
metrics    GET    404   404   404   404   404   404   404
style      GET    200   200   200   200   200   200   200
reminder-wishes  GET   in  404  200  200  200  200  200
reminder-wishes  POST  in  404  302  302  302  302  302
reminder-list    GET   in  404  404  404  404  200  200
reminder-again   POST  in  404  404  404  404  302  302
reminder-stop    GET   200 200  200  200  200  200  200
reminder-stop    POST  200 200  200  200  200  200  200
api-reminder-list   GET 401 404 200 200 200 200 200
api-reminder-detail GET 401 404 404 200 404 404 404
due        GET    in    404   200   200   200   200   200
api-schema GET    200   200   200   200   200   200   200
due-list   GET    401   404   200   200   200   200   200
api-root   GET    200*  200*  200   200   200   200   200
"""


def _token(w) -> str:
    path = urlsplit(stop_link(w.members["owner"], "collect")).path
    return path.strip("/").rpartition("/")[2]


THINGS = {
    "reminder-again": lambda w: [w.reminder.pk],
    "reminder-stop": lambda w: [_token(w)],
    "api-reminder-detail": lambda w: [w.reminder.pk],
}
SENT = {"reminder-wishes POST": lambda w, me: {"rhythm": "daily"}}
