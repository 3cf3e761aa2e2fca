"""Django's test client over the records of the tests."""

import pytest


@pytest.fixture
def client(records):  # noqa: ARG001  the database behind the pages
    """Asks for pages as a browser of this machine would, without one."""
    from django.test import Client

    return Client(HTTP_HOST="localhost")


@pytest.fixture
def django(started_records):
    """Django set up, the database not touched."""
    return started_records
