"""What belongs to no one app: home, the API's own pages, what is due."""

from __future__ import annotations

TABLE = """
route      method anon  appl  other owner desk  coord admin
home       GET    200   200   200   200   200   200   200
health     GET    200   200   200   200   200   200   200
metrics    GET    404   404   404   404   404   404   404
style      GET    200   200   200   200   200   200   200
due        GET    in    404   200   200   200   200   200
api-schema GET    200   200   200   200   200   200   200
due-list   GET    401   404   200   200   200   200   200
api-root   GET    200*  200*  200   200   200   200   200
"""
