"""Pages of API results."""

from __future__ import annotations

from rest_framework.pagination import PageNumberPagination


class Pages(PageNumberPagination):
    """Fifty rows a page, at most 200."""

    page_size_query_param = "page_size"
    max_page_size = 200
