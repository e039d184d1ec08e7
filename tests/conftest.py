"""In which order tests are run: with several workers a file goes to one of them, those that take longest first."""

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: item.path not in slow)
