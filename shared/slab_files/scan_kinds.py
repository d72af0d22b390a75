"""Which kind a file of points is, told by its first bytes; no reader is loaded for it."""

from typing import Literal

ScanKind = Literal["las", "e57", "ply", "text"]

HEAD_BYTES = 4096
"""How much of a file decides."""

READ_HERE = "LAS, LAZ, E57, PLY, or text with x, y and z on each line"

_MAGIC: tuple[tuple[bytes, ScanKind], ...] = (
    (b"LASF", "las"),
    (b"ASTM-E57", "e57"),
    (b"ply\n", "ply"),
    (b"ply\r\n", "ply"),
)
# Text that is surely no list of points: mark-up, and documents in a language of their own.
_OTHER_TEXT = (b"<", b"{", b"[", b"%PDF", b"%!PS", b"{\\rtf", b"ISO-10303", b"#!")


def scan_kind(head: bytes) -> ScanKind | None:
    """The kind by the first 4096 bytes (fewer of a shorter file), None for a file that is not read here.

    LAS and LAZ begin alike and count as one kind here.
    """
    for magic, kind in _MAGIC:
        if head.startswith(magic):
            return kind
    return "text" if _may_be_points(head) else None


def _may_be_points(head: bytes) -> bool:
    if b"\0" in head or not _is_text(head):
        return False
    return not head.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(_OTHER_TEXT)


def _is_text(head: bytes) -> bool:
    try:
        head.decode()
    except UnicodeDecodeError as problem:
        # A character may be cut at the end of what was read.
        return problem.start >= len(head) - 3
    return True
