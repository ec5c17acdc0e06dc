"""The small workshop of the desk, and a picture to hand in."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from tests.maintenance.desk.conftest import freeze, shed

__all__ = ["freeze", "picture", "shed"]


@pytest.fixture
def picture():
    """picture() is a new small JPEG as a browser sends it."""
    made = []

    def make():
        kept = io.BytesIO()
        Image.new("RGB", (64, 48), (200, 30 + len(made), 40)).save(kept, "JPEG")
        made.append(kept)
        return SimpleUploadedFile(f"p{len(made)}.jpg", kept.getvalue(), "image/jpeg")

    return make
