"""The JSON API."""

from ninja import NinjaAPI

api = NinjaAPI(title="Lapwright", version="1", docs_url=None, urls_namespace="api")
