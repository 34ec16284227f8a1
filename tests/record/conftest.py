"""The journal that stands in a test's docstring."""

import pytest


@pytest.fixture
def page(request: pytest.FixtureRequest) -> str:
    """The docstring of the test that asks for it, for `told`."""
    return request.function.__doc__ or ""
