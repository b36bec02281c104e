"""Makes the hand-driven plant importable for the tests beside it, and hands out fresh ones."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from hand_driven_plant import Plant, quick_settings


@pytest.fixture
def plant():
    """A plant at rest, fit to start."""
    return Plant()


@pytest.fixture
def producing():
    """A plant that makes water into the tank."""
    return Plant().brought_to("producing")


@pytest.fixture
def settings():
    """The demonstration boat with short times and small volumes."""
    return quick_settings()
