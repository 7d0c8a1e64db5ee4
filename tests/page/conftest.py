"""A page in a folder of its own, and a client that was let in."""

import shutil
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from settscan.page.app import create_app
from settscan.page.guard import Pass
from settscan.page.room import Room
from tests.page.cloths import project_text

SAMPLES = Path(__file__).parents[2] / "sample_images"
HOST = "127.0.0.1:8711"
TOKEN = "a-token-for-tests"
ORIGIN = {"origin": f"http://{HOST}"}


@pytest.fixture
def folder(tmp_path):
    """A folder with one project and its picture."""
    (tmp_path / "blanket.toml").write_text(project_text(), encoding="utf-8")
    shutil.copy(SAMPLES / "plain_check.jpg", tmp_path / "blanket.jpg")
    shutil.copy(SAMPLES / "plain_check.jpg", tmp_path / "blanket.cloth.jpg")
    return tmp_path


@pytest.fixture
def stranger(folder):
    """A client without a token."""
    app = create_app(Room(folder), Pass(TOKEN, (HOST, "localhost:8711")))
    with TestClient(app, base_url=f"http://{HOST}", follow_redirects=False) as client:
        yield client


@pytest.fixture
def client(stranger):
    """A client that came by the link."""
    assert stranger.get(f"/?token={TOKEN}").status_code == 303
    stranger.headers.update(ORIGIN)
    return stranger
