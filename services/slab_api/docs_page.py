"""The contract as a page that works without internet: no fonts, scripts or styles from elsewhere."""

from functools import lru_cache
from html import escape
from pathlib import Path

from slab_api.problems import Kind

_FOLDER = Path(__file__).parent / "pages"


def docs_page() -> str:
    """The page; it reads openapi.json beside it."""
    return _page("Slabwright API", f"<main>Reading the contract …</main><script>{_read('docs.js')}</script>")


def problem_page(kind: Kind) -> str:
    """The meaning of one problem type."""
    return _page(
        kind.title,
        f"<main><h1>{escape(kind.title)}</h1><p>{escape(kind.meaning)}</p>"
        f"<p><code>{escape(kind.code)}</code>, HTTP {kind.status}</p></main>",
    )


@lru_cache
def _read(name: str) -> str:
    return (_FOLDER / name).read_text()


def _page(title: str, body: str) -> str:
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{_read('style.css')}</style></head>"
        f"<body>{body}</body></html>"
    )
