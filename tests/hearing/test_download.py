"""Fetching and unpacking, against a real server on this machine."""

from __future__ import annotations

import hashlib
import io
import itertools
import stat
import threading
import zipfile
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from assistant.hearing import download
from assistant.hearing.download import DownloadFailed, fetch, unpack

BODY = bytes(range(256)) * 2_000
DIGEST = hashlib.sha256(BODY).hexdigest()


class Server(ThreadingHTTPServer):
    """Serves one body; can break off, ignore ranges, or refuse."""

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.body = BODY
        self.break_after: int | None = None
        self.ranges = True
        self.status: int | None = None
        self.moved_to: str | None = None
        self.asked: list[str | None] = []
        self.sent = 0

    @property
    def address(self) -> str:
        """Of the body."""
        return f"http://127.0.0.1:{self.server_address[1]}/model.zip"


class _Handler(BaseHTTPRequestHandler):
    server: Server

    def do_GET(self) -> None:
        server = self.server
        asked = self.headers.get("Range")
        server.asked.append(asked)
        if server.status is not None:
            self.send_error(server.status)
            return
        if server.moved_to is not None:
            self.send_response(302)
            self.send_header("Location", server.moved_to)
            self.end_headers()
            return
        begin = 0
        if asked and server.ranges:
            begin = int(asked.removeprefix("bytes=").rstrip("-"))
            self.send_response(206)
            last = len(server.body) - 1
            self.send_header("Content-Range", f"bytes {begin}-{last}/{len(server.body)}")
        else:
            self.send_response(200)
        part = server.body[begin:]
        self.send_header("Content-Length", str(len(part)))
        self.end_headers()
        part = part[: server.break_after]
        server.sent += len(part)
        self.wfile.write(part)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the base's name
        """Say nothing in a test."""


@pytest.fixture
def server() -> Iterator[Server]:
    """A server on this machine's loopback."""
    with Server() as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.01,))
        thread.start()
        yield running
        running.shutdown()
        thread.join()


def test_file_arrives_whole_and_progress_reaches_the_end(server: Server, tmp_path: Path) -> None:
    """The file is what the server has, and progress never goes back and ends at the size."""
    seen: list[tuple[int, int]] = []
    fetch(server.address, tmp_path / "m", len(BODY), DIGEST, lambda *step: seen.append(step))
    assert (tmp_path / "m").read_bytes() == BODY
    assert seen == sorted(seen)
    assert seen[-1] == (len(BODY), len(BODY))


def test_broken_download_goes_on_where_it_stopped(server: Server, tmp_path: Path) -> None:
    """After a broken connection the next try asks for the rest only, and the whole is verified."""
    server.break_after = 200_000
    with pytest.raises(DownloadFailed, match="try again"):
        fetch(server.address, tmp_path / "m", len(BODY), DIGEST)
    server.break_after = None
    fetch(server.address, tmp_path / "m", len(BODY), DIGEST)
    assert (tmp_path / "m").read_bytes() == BODY
    assert server.asked == [None, "bytes=200000-"]
    assert server.sent == len(BODY)


def test_server_without_ranges_sends_all_again(server: Server, tmp_path: Path) -> None:
    """A server that ignores the range makes the download begin anew instead of joining wrongly."""
    (tmp_path / "m").write_bytes(BODY[:1000])
    server.ranges = False
    fetch(server.address, tmp_path / "m", len(BODY), DIGEST)
    assert (tmp_path / "m").read_bytes() == BODY


def test_complete_file_is_not_fetched_again(server: Server, tmp_path: Path) -> None:
    """What is here already is only verified."""
    (tmp_path / "m").write_bytes(BODY)
    fetch(server.address, tmp_path / "m", len(BODY), DIGEST)
    assert server.asked == []


def test_wrong_digest_is_removed(server: Server, tmp_path: Path) -> None:
    """A file of the right size but other content is named with both digests and removed."""
    server.body = bytes(len(BODY))
    with pytest.raises(DownloadFailed, match=DIGEST):
        fetch(server.address, tmp_path / "m", len(BODY), DIGEST)
    assert not (tmp_path / "m").exists()


def test_corrupt_part_is_removed_after_the_resume(server: Server, tmp_path: Path) -> None:
    """A part that was damaged on disk is found by the digest; the try after that succeeds."""
    (tmp_path / "m").write_bytes(bytes(1000))
    with pytest.raises(DownloadFailed, match="SHA-256"):
        fetch(server.address, tmp_path / "m", len(BODY), DIGEST)
    fetch(server.address, tmp_path / "m", len(BODY), DIGEST)
    assert (tmp_path / "m").read_bytes() == BODY


def test_endless_body_is_cut_off(server: Server, tmp_path: Path) -> None:
    """A server that sends more than was promised does not fill the disk."""
    server.body = BODY * 50
    with pytest.raises(DownloadFailed, match="more than"):
        fetch(server.address, tmp_path / "m", len(BODY), DIGEST)
    assert (tmp_path / "m").stat().st_size <= len(BODY)


def test_refusal_and_no_server_say_what_to_do(server: Server, tmp_path: Path) -> None:
    """An HTTP error and a dead address are told in words, with where to put the file by hand."""
    server.status = 404
    with pytest.raises(DownloadFailed, match=r"404.*put it at"):
        fetch(server.address, tmp_path / "m", 10, DIGEST)
    with pytest.raises(DownloadFailed, match="could not be fetched"):
        fetch("http://127.0.0.1:1/model.zip", tmp_path / "m", 10, DIGEST)


def test_plain_http_is_refused(tmp_path: Path) -> None:
    """Nothing is fetched from afar without encryption, nor read from local files."""
    for address in ("http://example.invalid/m.zip", "file:///etc/hostname"):
        with pytest.raises(DownloadFailed, match="https only"):
            fetch(address, tmp_path / "m", 10, DIGEST)


def _zip(path: Path, entries: dict[str, bytes], link: str | None = None) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in entries.items():
            file.writestr(name, content)
        if link:
            info = zipfile.ZipInfo(link)
            info.external_attr = (stat.S_IFLNK | 0o777) << 16
            file.writestr(info, "/etc")
    return path


def test_archive_becomes_its_folder(tmp_path: Path) -> None:
    """The one top folder of the zip becomes the folder asked for, and no other trace stays."""
    archive = _zip(tmp_path / "m.zip", {"top/am/final.mdl": b"x", "top/README": b"y"})
    unpack(archive, tmp_path / "model", 1_000)
    assert (tmp_path / "model/am/final.mdl").read_bytes() == b"x"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["m.zip", "model"]


@pytest.mark.parametrize(
    "name",
    ["../evil", "top/../../evil", "/evil", "C:/evil", "..\\evil", "top\\..\\..\\evil", "evil"],
)
def test_paths_that_lead_outside_are_refused(tmp_path: Path, name: str) -> None:
    """No entry can write outside of the model's folder, and nothing is left behind."""
    inside = tmp_path / "inside"
    inside.mkdir()
    archive = _zip(inside / "m.zip", {"top/ok": b"x", name: b"evil"})
    with pytest.raises(DownloadFailed, match="evil"):
        unpack(archive, inside / "model", 1_000)
    assert [path.name for path in tmp_path.rglob("*")] == ["inside", "m.zip"]


def test_links_are_refused(tmp_path: Path) -> None:
    """A symbolic link in the zip is not followed, nor made."""
    archive = _zip(tmp_path / "m.zip", {"top/ok": b"x"}, link="top/link")
    with pytest.raises(DownloadFailed, match="link"):
        unpack(archive, tmp_path / "model", 1_000)


@pytest.mark.parametrize(
    "name",
    ["top/C:/x", "top/file:stream", "top/con", "top/NUL.txt", "top/dot.", "top/\x1b[2J", "top/é",
     "top/" + "d/" * 20 + "x", ".", "top/" + "n" * 200],
)  # fmt: skip
def test_names_that_are_not_plain_everywhere_are_refused(tmp_path: Path, name: str) -> None:
    """No drive, stream, device, control sign or endless name: some system takes it for more."""
    archive = _zip(tmp_path / "m.zip", {"top/ok": b"x", name: b"y"})
    with pytest.raises(DownloadFailed):
        unpack(archive, tmp_path / "model", 1_000)
    assert [path.name for path in tmp_path.iterdir()] == ["m.zip"]


def test_two_files_of_one_name_are_refused(tmp_path: Path) -> None:
    """Names that differ in case only are one on some systems: which would be left there?"""
    archive = _zip(tmp_path / "m.zip", {"top/readme": b"x", "top/README": b"y"})
    with pytest.raises(DownloadFailed, match="two files of one name"):
        unpack(archive, tmp_path / "model", 1_000)


@pytest.mark.parametrize("method", [zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2])
def test_other_ways_of_packing_are_refused(tmp_path: Path, method: int) -> None:
    """An LZMA entry may ask for gigabytes of memory before it gives a byte."""
    with zipfile.ZipFile(tmp_path / "m.zip", "w", method) as file:
        file.writestr("top/x", b"x" * 100)
    with pytest.raises(DownloadFailed, match="packed in a way"):
        unpack(tmp_path / "m.zip", tmp_path / "model", 1_000)


@pytest.mark.parametrize("at", [0, 3, 7])
def test_damaged_data_is_told(tmp_path: Path, at: int) -> None:
    """Whatever the library raises for a stream or a name that is broken comes as one error."""
    raw = bytearray(_zip(tmp_path / "m.zip", {"top/xé": bytes(range(256)) * 4}).read_bytes())
    data = raw.find("top/xé".encode()) + len("top/xé".encode())
    raw[data + at : data + at + 9] = b"\xff" * 9
    (tmp_path / "m.zip").write_bytes(raw)
    with pytest.raises(DownloadFailed):
        unpack(tmp_path / "m.zip", tmp_path / "model", 5_000)
    (tmp_path / "m.zip").write_bytes(bytes(raw).replace("é".encode(), b"\xff\xff"))
    with pytest.raises(DownloadFailed, match="can't be unpacked"):
        unpack(tmp_path / "m.zip", tmp_path / "model", 5_000)
    assert [path.name for path in tmp_path.iterdir()] == ["m.zip"]


@pytest.mark.parametrize(
    "to", ["http://example.invalid/x", "ftp://127.0.0.1/x", "http://localhost/"]
)
def test_nobody_is_sent_to_a_less_safe_place(server: Server, tmp_path: Path, to: str) -> None:
    """A server may send on, but not away from encryption."""
    server.moved_to = to
    with pytest.raises(DownloadFailed, match="not https"):
        fetch(server.address, tmp_path / "m", len(BODY), DIGEST)


def test_a_server_that_trickles_is_left(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However little comes now and then, the time for the whole file is bounded."""
    hours = itertools.count(step=3600)
    monkeypatch.setattr(download, "monotonic", lambda: float(next(hours)))
    with pytest.raises(DownloadFailed, match="too slowly"):
        fetch(server.address, tmp_path / "m", len(BODY), DIGEST)


def test_bomb_is_refused(tmp_path: Path) -> None:
    """A zip that would grow beyond the limit is refused before anything is written."""
    archive = _zip(tmp_path / "m.zip", {"top/zeros": bytes(5_000_000)})
    assert archive.stat().st_size < 10_000
    with pytest.raises(DownloadFailed, match="5000000"):
        unpack(archive, tmp_path / "model", 100_000)
    assert not (tmp_path / "model").exists()


def test_bomb_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    """A zip whose table says less than it holds is cut off while it is unpacked."""
    archive = _zip(tmp_path / "m.zip", {"top/zeros": bytes(5_000_000)})
    lying = archive.read_bytes().replace(
        (5_000_000).to_bytes(4, "little"), (50).to_bytes(4, "little")
    )
    archive.write_bytes(lying)
    with pytest.raises(DownloadFailed, match="can't be unpacked"):
        unpack(archive, tmp_path / "model", 100_000)
    assert [path.name for path in tmp_path.iterdir()] == ["m.zip"]


def test_two_top_folders_are_refused(tmp_path: Path) -> None:
    """A zip that is not one folder is not guessed at."""
    archive = _zip(tmp_path / "m.zip", {"one/x": b"x", "two/y": b"y"})
    with pytest.raises(DownloadFailed, match="top folder"):
        unpack(archive, tmp_path / "model", 1_000)


def test_what_is_no_zip_is_refused(tmp_path: Path) -> None:
    """Damaged archives are refused in words."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as file:
        file.writestr("top/x", b"x" * 1000)
    archive = tmp_path / "m.zip"
    archive.write_bytes(whole.getvalue()[:600])
    with pytest.raises(DownloadFailed, match=r"m\.zip"):
        unpack(archive, tmp_path / "model", 10_000)
