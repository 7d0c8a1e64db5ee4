"""The page lets nobody in who was not asked, and nothing out of its folder.

What is checked follows the OWASP cheat sheets on cross-site request forgery, DNS rebinding,
content security policy and file upload (cheatsheetseries.owasp.org, from memory).
"""

import http.client
import re
import socket
import threading
import time

import pytest

from settscan.page import guard, shelf
from settscan.page.guard import CSP, Pass
from settscan.page.serve import LOOPBACK, open_door, run
from tests.page.conftest import HOST, ORIGIN, SAMPLES, TOKEN

PATHS = ["/", "/p/blanket", "/p/blanket/state", "/static/paper.css", "/events", "/share"]
CHANGES = ["/upload", "/read", "/new", "/stop", "/p/blanket/edit", "/p/blanket/go"]


@pytest.mark.parametrize("path", PATHS)
def test_without_the_token_nothing_is_shown(stranger, path):
    answer = stranger.get(path)
    assert answer.status_code == 403
    assert "token" in answer.text
    assert "blanket" not in answer.text


@pytest.mark.parametrize("path", CHANGES)
def test_without_the_token_nothing_is_changed(stranger, folder, path):
    before = sorted(folder.rglob("*"))
    assert stranger.post(path, json={}, headers=ORIGIN).status_code == 403
    assert sorted(folder.rglob("*")) == before


@pytest.mark.parametrize("token", ["", "x", TOKEN[:-1], TOKEN + "x", "ä", TOKEN.upper()])
def test_a_wrong_token_does_not_get_in(stranger, token):
    assert stranger.get("/", params={"token": token}).status_code == 403
    stranger.cookies.set("settscan-8711", token.encode("ascii", "replace").decode())
    assert stranger.get("/").status_code == 403


def test_the_token_leaves_the_address_at_once(stranger):
    answer = stranger.get(f"/p/blanket?token={TOKEN}&x=1")
    assert answer.headers["location"] == "/p/blanket?x=1"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert stranger.get("/p/blanket").status_code == 200


def test_the_entry_leads_nowhere_else(stranger):
    answer = stranger.get(f"//evil.example/?token={TOKEN}")
    assert answer.headers["location"].startswith("/")
    assert not answer.headers["location"].startswith("//")


@pytest.mark.parametrize("path", ["//evil.example", "https://evil.example", "/\\evil.example"])
def test_the_look_leads_back_only_to_the_page(client, path):
    answer = client.get("/look", params={"words": "us", "back": path})
    assert answer.headers["location"] == "/"


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8711", "127.0.0.1", "127.0.0.1:80", "", "192.168.1.9:8711"],
)
def test_another_host_name_is_refused_even_with_the_token(client, host):
    """DNS rebinding: a foreign name that leads to this computer."""
    for method in ("GET", "POST"):
        answer = client.request(method, "/p/blanket/state", headers={"host": host})
        assert answer.status_code == 421
        assert "revision" not in answer.text


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "http://127.0.0.1:9999", f"https://{HOST}"]
)
def test_another_origin_is_refused_even_with_the_cookie(client, folder, origin):
    before = (folder / "blanket.toml").read_text()
    for path in CHANGES:
        assert client.post(path, json={}, headers={"origin": origin}).status_code == 403
    assert client.get("/p/blanket/state", headers={"origin": origin}).status_code == 403
    assert (folder / "blanket.toml").read_text() == before


def test_a_change_without_an_origin_is_refused(client):
    del client.headers["origin"]
    assert client.post("/p/blanket/edit", json={}).status_code == 403
    assert client.get("/p/blanket/state").status_code == 200


def test_a_form_on_another_page_is_refused(client):
    answer = client.post("/new", data={"name": "x"}, headers={"sec-fetch-site": "cross-site"})
    assert answer.status_code == 403
    image = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert client.get("/p/blanket/tile?which=cloth", headers=image).status_code == 403


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_no_other_method_does_anything(client, method):
    assert client.request(method, "/p/blanket/edit").status_code in (403, 405)


def test_every_answer_forbids_all_but_our_own_files(client):
    for path in [*PATHS[:4], "/p/none", "/nothing", "/p/blanket/plan"]:
        headers = client.get(path).headers
        assert headers["content-security-policy"] == CSP
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
        assert "access-control-allow-origin" not in headers
    assert "unsafe" not in CSP and "http" not in CSP and "*" not in CSP


def test_the_pages_hold_no_script_style_or_address_of_others(client):
    for path in ("/", "/p/blanket", "/p/blanket/wind", "/share"):
        text = client.get(path).text
        assert not re.search(r"<script(?![^>]*src=)", text)
        assert not re.search(r"\son\w+=|\sstyle=|javascript:", text)
        assert not re.search(r"(?:src|href|action)=\"(?:https?:)?//", text)


def test_the_sheets_run_nothing(client):
    answer = client.get("/p/blanket/files?file=sheets.html&open=1")
    policy = answer.headers["content-security-policy"]
    assert "sandbox" in policy and "script" not in policy and "default-src 'none'" in policy


SCRIPTS = ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "<b id=zz>{{ 7*7 }}</b>"]


@pytest.mark.parametrize("script", SCRIPTS)
def test_script_in_a_colour_name_stays_text(client, script):
    state = client.get("/p/blanket/state").json()
    edit = {"name": "rename-yarn", "yarn": "A", "text": script[:59]}
    answer = client.post("/p/blanket/edit", json={"revision": state["revision"], "edit": edit})
    assert answer.json()["yarns"][0]["name"] == script[:59]
    assert answer.headers["content-type"] == "application/json"
    for path in ("/p/blanket", "/p/blanket/wind"):
        assert script not in client.get(path).text
    sheets = client.get("/p/blanket/files?file=sheets.html&open=1").text
    assert script not in sheets
    assert ("{{ 7*7 }}" in sheets) == ("{{ 7*7 }}" in script)  # shown as it was written


@pytest.mark.parametrize("script", SCRIPTS)
def test_script_in_the_name_of_the_cloth_stays_text(client, script):
    revision = client.get("/p/blanket/state").json()["revision"]
    body = {"revision": revision, "section": "cloth", "key": "name", "value": script}
    assert client.post("/p/blanket/field", json=body).status_code == 200
    for path in ("/p/blanket", "/p/blanket/wind"):
        text = client.get(path).text
        assert "alert(1)</script>" not in text and "onerror=alert(1)>" not in text
        assert "<b id=zz>" not in text


def test_script_in_a_file_name_stays_text(client, folder):
    answer = client.post(
        "/upload",
        content=(SAMPLES / "plain_check.jpg").read_bytes(),
        headers={"x-file-name": "%3Cimg%20src=x%20onerror=alert(1)%3E.jpg"},
    )
    name = answer.json()["photo"]
    assert not set(name) & set("<>\"'&/\\")
    (folder / "a&lt;b<i>.jpg").write_bytes(b"x")
    assert "<i>" not in client.get("/").text


TRAVERSALS = [
    "../secret", "..%2fsecret", "%2e%2e/secret", "..", "a/../../secret", "/etc/passwd", "C:\\x",
    "blanket%00", "....//secret", "~root", "blanket.page/../../secret",
]  # fmt: skip


@pytest.mark.parametrize("name", TRAVERSALS)
def test_no_path_leaves_the_folder(client, folder, name):
    (folder.parent / "secret.toml").write_text("[warp]\nsecret\n")
    for tail in ("", "/state", "/files?file=project", "/tile?which=photo&level=0&column=0&row=0"):
        answer = client.get(f"/p/{name}{tail}")
        assert "secret\n" not in answer.text
        if name != "..":  # which the client itself takes for the first page
            assert answer.status_code in (400, 403, 404, 405, 421)
    for which in ("../secret.toml", "photo/../../x", "toml"):
        answer = client.get(f"/p/blanket/tile?which={which}&level=0&column=0&row=0")
        assert answer.status_code == 400


@pytest.mark.parametrize("name", TRAVERSALS)
def test_no_file_is_put_elsewhere(client, folder, name):
    outside = sorted(path.name for path in folder.parent.iterdir())
    content = (SAMPLES / "plain_check.jpg").read_bytes()
    client.post("/upload", content=content, headers={"x-file-name": f"{name}.jpg"})
    client.post("/new", json={"name": name})
    client.post("/read", json={"photos": [name + ".jpg"]})
    assert sorted(path.name for path in folder.parent.iterdir()) == outside
    for path in folder.rglob("*"):
        assert path.resolve().is_relative_to(folder.resolve())


def test_a_link_out_of_the_folder_is_not_followed(client, folder):
    secret = folder.parent / f"{folder.name}-secret.toml"
    secret.write_text((folder / "blanket.toml").read_text())
    (folder / "alias.toml").symlink_to(secret)
    answer = client.get("/p/alias/state")
    assert answer.status_code == 400
    secret.unlink()


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/fonts/../x"]
)
def test_only_the_pages_own_files_are_served(client, path):
    assert client.get(path).status_code in (404, 403)


def test_a_body_that_is_too_large_is_refused(client):
    answer = client.post("/p/blanket/edit", content=b" " * (guard.MOST_BODY + 1))
    assert answer.status_code == 413


def test_a_photo_of_too_many_bytes_is_refused(client, folder, monkeypatch):
    monkeypatch.setattr(guard, "MOST_PHOTO_BYTES", 1000)
    before = sorted(folder.iterdir())
    answer = client.post("/upload", content=b"x" * 1001, headers={"x-file-name": "a.jpg"})
    assert answer.status_code == 413

    def stream():
        for _ in range(30):
            yield b"x" * 100

    answer = client.post("/upload", content=stream(), headers={"x-file-name": "a.jpg"})
    assert answer.status_code in (400, 413)
    assert sorted(folder.iterdir()) == before


def test_a_photo_of_too_many_pixels_is_refused(client, folder):
    """A picture that is small as a file and vast when unpacked."""
    import struct
    import zlib

    def chunk(kind, body):
        tail = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + tail

    head = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 2, 0, 0, 0)
    bomb = (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )
    answer = client.post("/upload", content=bomb, headers={"x-file-name": "bomb.png"})
    assert answer.status_code == 400
    assert "million pixels" in answer.json()["message"]
    assert not (folder / "bomb.png").exists()


@pytest.mark.parametrize("name", ["x.exe", "x", "x.svg", "x.html", ".jpg.toml", "x.toml"])
def test_only_photos_are_taken(client, folder, name):
    answer = client.post("/upload", content=b"x", headers={"x-file-name": name})
    assert answer.status_code == 400
    assert not (folder / name).exists()


@pytest.mark.parametrize("content", [b"Dear weavers,\n", b"%PDF-1.7\n", b"\0" * 500])
def test_what_is_called_a_photo_and_is_none_is_not_kept(client, folder, content):
    answer = client.post("/upload", content=content, headers={"x-file-name": "letter.jpg"})
    assert answer.status_code == 400
    assert "letter.jpg is no picture" in answer.json()["message"]
    assert not (folder / "letter.jpg").exists()


def test_a_photo_that_another_part_opens_is_taken(client, folder):
    """Pillow alone knows no HEIC photos; the reader does, and says where one is damaged."""
    heic = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 64
    answer = client.post("/upload", content=heic, headers={"x-file-name": "phone.heic"})
    assert answer.status_code == 200 and (folder / "phone.heic").exists()


def test_a_photo_never_takes_the_place_of_another(client, folder):
    before = (folder / "blanket.jpg").read_bytes()
    other = (SAMPLES / "tilted_swatch.jpg").read_bytes()
    answer = client.post("/upload", content=other, headers={"x-file-name": "blanket.jpg"})
    assert answer.json()["photo"] == "blanket-2.jpg"
    assert (folder / "blanket.jpg").read_bytes() == before
    again = client.post("/upload", content=other, headers={"x-file-name": "blanket.jpg"})
    assert again.json()["photo"] == "blanket-2.jpg"


@pytest.mark.parametrize("name", ["CON/x", "a" * 200, "\n", ".hidden", "x\0"])
def test_names_that_are_none_are_told(name):
    assert not shelf.is_name(name)


def test_names_of_other_scripts_are_names():
    for name in ("couverture d'été", "毛布", "одеяло", "my blanket 2"):
        assert shelf.is_name(name)
        assert shelf.safe_stem(name)


def test_broken_requests_are_answered_in_a_sentence(client):
    for content in (b"{", b"[]", b"\xff\xfe", b'{"a": 1e999}', b"[" * 100_000):
        answer = client.post("/p/blanket/edit", content=content)
        assert answer.status_code == 400
        assert answer.json()["message"].endswith(".")


# --- the real door ----------------------------------------------------------------------------


def test_the_door_is_open_on_this_computer_only(tmp_path):
    door = open_door("/")
    try:
        assert [one.getsockname()[0] for one in door.sockets] == [LOOPBACK]
        assert door.share == ""
        assert len(door.entry.token) >= 32
        assert door.link.startswith(f"http://127.0.0.1:{door.sockets[0].getsockname()[1]}/?token=")
    finally:
        for one in door.sockets:
            one.close()


def test_two_doors_have_two_tokens():
    doors = [open_door("/"), open_door("/")]
    assert doors[0].entry.token != doors[1].entry.token
    for door in doors:
        door.sockets[0].close()


def test_a_port_that_is_taken_is_told():
    from settscan.errors import BadInput

    with socket.socket() as taken:
        taken.bind((LOOPBACK, 0))
        taken.listen()
        with pytest.raises(BadInput, match="cannot be used"):
            open_door("/", taken.getsockname()[1])


def test_raw_requests_meet_the_guard(tmp_path):
    """What no browser sends: a Host of another, none, two; a path that climbs."""
    door = open_door("/")
    threading.Thread(target=run, args=(tmp_path, door), daemon=True).start()
    port = door.sockets[0].getsockname()[1]
    cookie = f"settscan-{port}={door.entry.token}"

    def status(path, **headers):
        for _ in range(50):
            try:
                link = http.client.HTTPConnection(LOOPBACK, port, timeout=5)
                link.putrequest("GET", path, skip_host=True)
                break
            except OSError:
                time.sleep(0.1)
        for key, value in headers.items():
            link.putheader(key, value)
        link.endheaders()
        answer = link.getresponse().status
        link.close()
        return answer

    host = f"127.0.0.1:{port}"
    assert status("/", Host=host) == 403
    assert status("/", Host=host, Cookie=cookie) == 200
    assert status("/", Host="evil.example", Cookie=cookie) == 421
    assert status("/", Cookie=cookie) in (400, 421)
    assert status("/static/../../app.py", Host=host, Cookie=cookie) in (403, 404)
    assert status("/p/../../etc/passwd", Host=host, Cookie=cookie) in (400, 404)


def test_the_pass_names_its_port():
    assert Pass("t", ("127.0.0.1:9",)).cookie == "settscan-9"
