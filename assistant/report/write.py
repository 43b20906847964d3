"""Pages onto the disk: HTML as it is, PDF by WeasyPrint."""

from __future__ import annotations

from pathlib import Path

from assistant.errors import BadInput


def write_html(html: str, path: Path) -> None:
    """Write the page.

    Raises:
        BadInput: the file can't be written.
    """
    _write(html.encode("utf-8"), path)


def write_pdf(html: str, path: Path) -> None:
    """Write the page as PDF.

    Raises:
        BadInput: WeasyPrint or the system library it needs is not here, or the file can't be
            written.
    """
    try:
        from weasyprint import HTML  # noqa: PLC0415 - an extra, and slow to load
    except (ImportError, OSError) as error:  # OSError: Pango is missing
        msg = (
            "PDF needs WeasyPrint and the Pango library: pip install 'gloves-on[pdf]', on Debian "
            f"apt install libpango-1.0-0 libpangoft2-1.0-0; --html works without ({error})"
        )
        raise BadInput(msg) from error
    made = HTML(string=html, url_fetcher=_fetch_nothing).write_pdf()
    _write(made, path)


def _fetch_nothing(url: str, *_more: object, **_named: object) -> None:
    """The page is self-contained: whatever asks for something else is a trick."""
    msg = f"the report fetches nothing, least of all {url}"
    raise ValueError(msg)


def _write(content: bytes, path: Path) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        msg = f"{path} can't be written: {error}"
        raise BadInput(msg) from error
