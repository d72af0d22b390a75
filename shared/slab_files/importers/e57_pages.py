"""The pages that an E57 file is cut into, each with a checksum at its end: ASTM E2807 (from memory)."""

from pathlib import Path
from types import TracebackType
from typing import IO

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.kernel import kernel
from slab_files.importers.refusals import malformed, truncated, unsupported

HEADER_BYTES = 48
SUM_BYTES = 4
PAGES_AT_ONCE = 4096
CASTAGNOLI = 0x82F63B78
"""The polynomial of CRC-32C, bits reversed (RFC 3720, appendix B.4)."""

Bytes = NDArray[np.uint8]


def _tables() -> NDArray[np.uint32]:
    """For each of eight bytes ahead, what it does to the checksum."""
    table = np.zeros((8, 256), dtype=np.uint32)
    for value in range(256):
        part = value
        for _ in range(8):
            part = part >> 1 ^ (CASTAGNOLI if part & 1 else 0)
        table[0, value] = part
    for ahead in range(1, 8):
        table[ahead] = table[ahead - 1] >> 8 ^ table[0, table[ahead - 1] & 255]
    return table


TABLES = _tables()


@kernel
def page_sums(pages: Bytes, tables: NDArray[np.uint32], sums: NDArray[np.uint32]) -> None:
    """CRC-32C of each row but its last four bytes; rows are whole pages of a multiple of 4 bytes."""
    for page in range(pages.shape[0]):
        row = pages[page]
        crc = np.uint32(0xFFFFFFFF)
        end = row.shape[0] - 4
        at = 0
        while at + 8 <= end:
            crc ^= np.uint32(row[at] | row[at + 1] << 8 | row[at + 2] << 16 | row[at + 3] << 24)
            crc = (
                tables[7, crc & 255]
                ^ tables[6, crc >> 8 & 255]
                ^ tables[5, crc >> 16 & 255]
                ^ tables[4, crc >> 24]
                ^ tables[3, row[at + 4]]
                ^ tables[2, row[at + 5]]
                ^ tables[1, row[at + 6]]
                ^ tables[0, row[at + 7]]
            )
            at += 8
        while at < end:
            crc = crc >> 8 ^ tables[0, (crc ^ row[at]) & 255]
            at += 1
        sums[page] = ~crc


class PagedFile:
    """Reads the bytes between the checksums. Positions outside are physical, as the file states them."""

    def __init__(self, path: Path) -> None:
        self.size = path.stat().st_size
        with path.open("rb") as file:
            header = file.read(HEADER_BYTES)
        if len(header) < HEADER_BYTES:
            raise truncated("The file ends within its header.")
        numbers = np.frombuffer(header, dtype="<u8", offset=16)
        self.stated, self.xml_at, self.xml_bytes, self.page = (int(number) for number in numbers)
        self._check(int.from_bytes(header[8:12], "little"))
        self._held, self._first, self._at = b"", 0, 0
        self._file: IO[bytes] = path.open("rb")

    def _check(self, major: int) -> None:
        if major != 1:
            raise unsupported(f"The file states version {major} of E57; 1 is read.")
        if self.page != 1024:
            raise malformed(f"The header states pages of {self.page:,} bytes; those of E57 have 1,024.")
        if self.stated > self.size:
            raise truncated(f"The header states {self.stated:,} bytes; the file has {self.size:,}.")

    def __enter__(self) -> "PagedFile":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def seek(self, physical: int) -> None:
        """Go to a place in the file that is not within a checksum."""
        page, within = divmod(physical, self.page)
        if not HEADER_BYTES <= physical < self.size or within >= self.page - SUM_BYTES:
            raise malformed(f"The file points to byte {physical:,}, where nothing can be.")
        self._at = page * (self.page - SUM_BYTES) + within

    def read(self, count: int) -> bytes:
        """The next bytes. Raises InputRefused where the file ends before, or a page's checksum is wrong."""
        parts = []
        while count:
            place = self._at - self._first
            if not 0 <= place < len(self._held):
                self._load(self._at // (self.page - SUM_BYTES))
                continue
            part = self._held[place : place + count]
            parts.append(part)
            self._at += len(part)
            count -= len(part)
        return parts[0] if len(parts) == 1 else b"".join(parts)

    def _load(self, number: int) -> None:
        self._file.seek(number * self.page)
        raw = self._file.read(PAGES_AT_ONCE * self.page)
        pages = np.frombuffer(raw, dtype=np.uint8, count=len(raw) // self.page * self.page)
        pages = pages.reshape(-1, self.page)
        if not len(pages):
            raise truncated(f"The file ends within page {number + 1:,}.")
        self._check_sums(pages, number)
        self._held = pages[:, :-SUM_BYTES].tobytes()
        self._first = number * (self.page - SUM_BYTES)

    def _check_sums(self, pages: Bytes, number: int) -> None:
        sums = np.empty(len(pages), dtype=np.uint32)
        page_sums(pages, TABLES, sums)
        wrong = np.flatnonzero(sums != pages[:, -SUM_BYTES:].copy().view(">u4").ravel())
        if len(wrong):
            place = number + int(wrong[0]) + 1
            raise malformed(
                f"Page {place:,} of the file is damaged: its checksum does not fit. Copy it again."
            )
