"""`gloveson model`: hostile archives and servers for `get`, files and folders for the rest."""

from __future__ import annotations

import hashlib
import shutil
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from assistant.hearing import download, models
from tests.end_to_end.hostile import archives
from tests.end_to_end.hostile.files import ODD, PHRASES, TEXTS, letters, remove
from tests.end_to_end.hostile.trying import ESCAPES, Bench, Seen, Tried

KIND, SERVER = "model get: archive", "model get: server"
Answer = Callable[[BaseHTTPRequestHandler, bytes], None]


def tries(bench: Bench) -> Iterator[Tried]:
    """Servers, builds and folders."""
    yield from _served(bench)
    yield from _built(bench)
    yield from _folders(bench)


def archive_tries(bench: Bench) -> Iterator[Tried]:
    """Archives."""
    sets = (archives.BOMBS, dict(archives.paths(str(bench.outer))), archives.LINKS, archives.DAMAGE)
    for what, make in (pair for these in sets for pair in these.items()):
        yield _get(bench, KIND, what, make())


def _get(
    bench: Bench,
    kind: str,
    what: str,
    body: bytes,
    answer: Answer | None = None,
    *,
    digest: str = "",
    size: int = 0,
) -> Tried:
    """`model get` of a model that a server on this machine has, with the digest it is known by."""
    folder = bench.home / "models"
    shutil.rmtree(folder, ignore_errors=True)
    known_digest = digest or hashlib.sha256(body).hexdigest()

    def before() -> None:
        address = serve(body, answer or whole)
        known = models.KnownModel(
            language="en", about="", address=address, bytes=size or max(1, len(body)),
            sha256=known_digest, license="made up",
        )  # fmt: skip
        # In the command's own process, which ends with it.
        setattr(models, "known_models", lambda: {"tiny": known})  # noqa: B010 - mypy minds less
        setattr(download, "_TIMEOUT_S", 1.0)  # noqa: B010 - as above

    def look(seen: Seen) -> Sequence[str]:
        left = sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []
        odd = [name for name in left if name not in ("tiny.lock", "tiny.zip.part", "tiny")]
        links = [str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_symlink()]
        half = ["a model after a refusal"] if seen.code and "tiny" in left else []
        return [*(f"left behind: {name}" for name in (*odd, *links)), *half]

    into = (folder,)
    return bench.run(
        kind,
        what,
        ["model", "get", "tiny"],
        names=r"tiny|model\.zip",
        into=into,
        before=before,
        look=look,
    )


def whole(handler: BaseHTTPRequestHandler, body: bytes) -> None:
    """An honest answer."""
    handler.send_response(200)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    handler.wfile.write(body)


def _headers(status: int, reason: str, **headers: str) -> Answer:
    def answer(handler: BaseHTTPRequestHandler, body: bytes) -> None:
        handler.send_response_only(status, reason)
        for name, value in headers.items():
            handler.send_header(name.replace("_", "-"), value)
        handler.end_headers()
        handler.wfile.write(body)

    return answer


def _endless(handler: BaseHTTPRequestHandler, _body: bytes) -> None:
    handler.send_response(200)
    handler.end_headers()
    for _ in range(20_000):
        handler.wfile.write(bytes(1 << 16))


def _trickle(handler: BaseHTTPRequestHandler, _body: bytes) -> None:
    """A byte now and then, for ever: no read times out."""
    handler.send_response(200)
    handler.end_headers()
    for _ in range(10_000):
        handler.wfile.write(b"x")
        handler.wfile.flush()
        time.sleep(0.3)


def _nothing(_handler: BaseHTTPRequestHandler, _body: bytes) -> None:
    time.sleep(30)


def _long_header(handler: BaseHTTPRequestHandler, _body: bytes) -> None:
    handler.wfile.write(b"HTTP/1.0 200 OK\r\nX: " + b"x" * 10_000_000)


def _many_headers(handler: BaseHTTPRequestHandler, _body: bytes) -> None:
    handler.wfile.write(b"HTTP/1.0 200 OK\r\n" + b"X: x\r\n" * 100_000 + b"\r\n")


def _no_http(handler: BaseHTTPRequestHandler, _body: bytes) -> None:
    handler.wfile.write(ESCAPES.encode() * 100)


def _served(bench: Bench) -> Iterator[Tried]:
    good = archives.made(archives.GOOD)
    again = {"Location": "http://127.0.0.1:9/other.zip"}
    answers: dict[str, Answer] = {
        "more than promised, without end": _endless,
        "a byte now and then, for ever": _trickle,
        "no answer": _nothing,
        "a header of 10 MB": _long_header,
        "100,000 headers": _many_headers,
        "no HTTP but escapes": _no_http,
        "escapes in the reason": _headers(404, ESCAPES),
        "moved to a local file": _headers(302, "Found", Location="file:///etc/passwd"),
        "moved to ftp": _headers(302, "Found", Location="ftp://127.0.0.1/x.zip"),
        "moved to plain HTTP elsewhere": _headers(302, "Found", Location="http://localhost:9/x"),
        "moved to itself": _headers(302, "Found", Location="/model.zip"),
        "moved to a closed port": _headers(302, "Found", **again),
        "length of 10^30": _headers(200, "OK", Content_Length="1" + "0" * 30),
        "negative length": _headers(200, "OK", Content_Length="-5"),
        "chunks that lie": _headers(200, "OK", Transfer_Encoding="chunked"),
        "half of it": _headers(200, "OK", Content_Length=str(2 * len(good))),
        "a part that nobody asked for": _headers(206, "Partial", Content_Range="bytes 500-"),
        "401 with a realm of escapes": _headers(401, "No", WWW_Authenticate="Basic realm=x"),
    }
    for what, answer in answers.items():
        yield _get(bench, SERVER, what, good, answer)
    yield _get(bench, SERVER, "another file of the same size", good, digest="0" * 64)


def serve(body: bytes, answer: Answer) -> str:
    """A server on this machine's loopback, in this process; its address."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            answer(self, body)

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the base's name
            """Say nothing."""

    class Server(ThreadingHTTPServer):
        def handle_error(self, request: object, client_address: object) -> None:
            """The client going away is expected."""

    server = Server(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return f"http://127.0.0.1:{server.server_address[1]}/model.zip"


_PRONOUNCED: dict[str, bytes] = {
    "a word of 100,000 sounds": b"language: en\npronunciations: {zzz: ['"
    + b"AH " * 100_000
    + b"AH']}\n",
    "sounds that are none": b"language: en\npronunciations: {zzz: [QQ], yyy: ['../..']}\n",
    "5,000 words": b"language: en\npronunciations:\n"
    + b"".join(b"  w%s: [AH]\n" % letters(n) for n in range(5_000)),
}


def _built(bench: Bench) -> Iterator[Tried]:
    kind, file = "model build", bench.home / "own.yaml"
    shutil.rmtree(bench.home / "models", ignore_errors=True)
    command = ["model", "build", "own", str(file), "--replace"]
    for what, content in {**TEXTS, **PHRASES, **_PRONOUNCED}.items():
        file.write_bytes(content)
        yield bench.run(kind, what, command, names=r"own\.yaml")
    file.unlink()
    for what, make in ODD.items():
        make(file)
        yield bench.run(kind, what, command, names=r"own\.yaml")
        remove(file)
    file.write_bytes(b"language: en\nintents: {step_done: [wrapped and tight]}\n")
    folder = bench.home / "models"
    target = bench.outer / "one" / "elsewhere"
    target.mkdir()
    (target / "shop.dict").write_bytes(b"kept\n")
    for what, prepare in _PLACES.items():
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        prepare(folder, target)
        yield bench.run(kind, what, command, names="own", into=(folder,))
    shutil.rmtree(folder, ignore_errors=True)
    folder.write_bytes(b"")
    yield bench.run(kind, "models is a file", command, names="models")
    folder.unlink()
    for name in ("../evil", "con", "a/b", "vosk-model-small-en-us-0.15", ".", "..", ESCAPES):
        yield bench.run(kind, f"named {name!a}", ["model", "build", name, str(file)])


def _linked(folder: Path, target: Path) -> None:
    (folder / "own").symlink_to(target)


def _linked_making(folder: Path, target: Path) -> None:
    (folder / "own.unpacking").symlink_to(target)


def _lock_is_folder(folder: Path, _target: Path) -> None:
    (folder / "own.lock").mkdir()


def _lock_is_link(folder: Path, target: Path) -> None:
    (folder / "own.lock").symlink_to(target / "made-by-the-lock")


def _file_there(folder: Path, _target: Path) -> None:
    (folder / "own").write_bytes(b"")


_PLACES: dict[str, Callable[[Path, Path], None]] = {
    "the model's place is a link": _linked,
    "the half-made folder is a link": _linked_making,
    "the lock is a folder": _lock_is_folder,
    "the lock is a link": _lock_is_link,
    "the model's place is a file": _file_there,
}


def _folders(bench: Bench) -> Iterator[Tried]:
    """Folders that are no model, given as one."""
    shipped = Path(str(models.__file__)).parent / "data" / "models"
    source = next(path for path in shipped.iterdir() if path.is_dir())
    for what, spoil in _SPOILED.items():
        folder = bench.work / "spoiled"
        shutil.copytree(source, folder)
        spoil(folder)
        command = ["model", "test", str(folder)]
        yield bench.run("model test: folder", what, command, names="spoiled")
        shutil.rmtree(folder)


def _every(folder: Path, change: Callable[[bytes], bytes]) -> None:
    for path in folder.rglob("*"):
        if path.is_file():
            path.write_bytes(change(path.read_bytes()))


def _graph(folder: Path, content: bytes) -> None:
    for path in (folder / "graph").iterdir():
        if path.suffix == ".fst":
            path.write_bytes(content)


def _noise_as_network(folder: Path) -> None:
    (folder / "am" / "final.mdl").write_bytes(b"\xff" * 9999)


def _emptied(folder: Path) -> None:
    for path in folder.iterdir():
        shutil.rmtree(path) if path.is_dir() else path.unlink()


_SPOILED: dict[str, Callable[[Path], None]] = {
    "empty folder": _emptied,
    "every file empty": lambda folder: _every(folder, lambda _: b""),
    "every file cut in half": lambda folder: _every(folder, lambda raw: raw[: len(raw) // 2]),
    "every file zeros": lambda folder: _every(folder, lambda raw: bytes(len(raw))),
    "graph of noise": lambda folder: _graph(folder, bytes((n * 97) & 0xFF for n in range(9999))),
    "network of noise": _noise_as_network,
}
