"""The cut list of boards as rows of a table: what to cut in laying order, and where the rest of it goes."""

from collections.abc import Iterator

from slab_core.layout.model import Layout, Piece

HEADING = (
    "floor", "spread", "row", "piece", "board", "board length (mm)", "taken from", "offcut of row",
    "offcut of piece", "starts at (mm)", "length (mm)", "width (mm)", "left end", "right end", "ripped",
    "rest to row", "rest to piece", "left of the board (mm)",
)  # fmt: skip

Row = tuple[str | int | float, ...]


def board_rows(layout: Layout) -> Iterator[Row]:
    """One row for each piece. Starts are along the rows from the floor's origin, widths the greatest of the
    piece; what is left of a board stands with its last piece, less a kerf for every cut."""
    spreads = {number: spread.order for spread in layout.spreads for number in spread.pieces}
    before, after = _neighbours(layout.pieces)
    kerf_m = layout.rules.kerf_m if layout.rules else 0.0
    for number, piece in enumerate(layout.pieces, start=1):
        source, rest = before.get(number, ()), after.get(number)
        earlier = source[-1] if source else None
        used_m = sum(other.end_m - other.start_m + kerf_m for other in (*source, piece))
        yield (
            layout.floor_id, spreads.get(number, ""), piece.row, piece.order, piece.board,
            1000.0 * piece.board_length_m, piece.source, *_place(earlier), 1000.0 * piece.start_m,
            1000.0 * (piece.end_m - piece.start_m), 1000.0 * (piece.far_m - piece.near_m),
            "cut" if piece.cut_start else "whole", "cut" if piece.cut_end else "whole",
            "yes" if piece.ripped else "no", *_place(rest),
            "" if rest else 1000.0 * max(0.0, piece.board_length_m - used_m),
        )  # fmt: skip


def _neighbours(pieces: tuple[Piece, ...]) -> tuple[dict[int, tuple[Piece, ...]], dict[int, Piece]]:
    """By a piece's number: the pieces cut before it from its board, and the next one."""
    cut: dict[int, list[tuple[int, Piece]]] = {}
    before, after = dict[int, tuple[Piece, ...]](), dict[int, Piece]()
    for number, piece in enumerate(pieces, start=1):
        earlier = cut.setdefault(piece.board, [])
        before[number] = tuple(other for _, other in earlier)
        if earlier:
            after[earlier[-1][0]] = piece
        earlier.append((number, piece))
    return before, after


def _place(piece: Piece | None) -> tuple[int | str, int | str]:
    return (piece.row, piece.order) if piece else ("", "")
