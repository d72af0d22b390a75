"""How many points the chunks of a LAZ file hold, whatever its header states."""

import struct
from pathlib import Path

import lazrs
import numpy as np

from slab_files.importers.las_header import LasHeader

SPARE_BYTES = 8
"""An encoder may end a chunk with so many bytes that no point needs; a few points that are more than stated
can hide in them where each point is coded after the other."""

FIRST_LAYERED_FORMAT = 6
"""From this point format on every chunk says how many points it holds."""


def held_beyond(*, path: Path, header: LasHeader, record: bytes) -> str | None:
    """What a file holds beyond the points that its header states, in words, or None.

    `record` is the file's record of its compression. The last chunk's points are decompressed once more from
    all but its last bytes: where that is enough for them, the bytes are those of further points.

    Raises the decompressor's errors where the file has no readable table of chunks.
    """
    compression = lazrs.LazVlr(record)
    with path.open("rb") as file:
        file.seek(header.begin)
        table = lazrs.read_chunk_table(file, compression)
        sizes = [size for _, size in table]
        if compression.uses_variable_size_chunks():
            held = sum(count for count, _ in table)
            return f"{held:,}" if held > header.count else None
        before = compression.chunk_size() * (len(table) - 1)
        if header.count <= before:
            return f"more than {before:,}"
        file.seek(header.begin + 8 + sum(sizes[:-1]))
        last = file.read(sizes[-1])
    if header.point_format >= FIRST_LAYERED_FORMAT:
        held = before + int(struct.unpack_from("<I", last, header.record_bytes)[0])
        return f"{held:,}" if held > header.count else None
    return "more" if _enough_without_its_end(last, header.count - before, header, record) else None


def _enough_without_its_end(chunk: bytes, count: int, header: LasHeader, record: bytes) -> bool:
    cut = chunk[: len(chunk) - SPARE_BYTES]
    room = np.empty(count * header.record_bytes, dtype=np.uint8)
    all_of_it = lazrs.DecompressionSelection(lazrs.SELECTIVE_DECOMPRESS_ALL)
    try:
        lazrs.decompress_points_with_chunk_table(cut, record, room, [(count, len(cut))], all_of_it)
    except lazrs.LazrsError:
        return False
    return True
