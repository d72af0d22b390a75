"""The firm's store of materials. What an entry has is the sum of its moves, and never below nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal
from uuid import UUID

from slab_store.rows import columns, insert_new, many, one
from slab_store.session import TenantSession
from slab_store.statement import text

MoveKind = Literal["came-in", "left-over", "corrected", "reserved", "given-back"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockEntry:
    """Packages of one product that came in together, and what is free of them now. `opened_thousandths` is
    what opened packages still hold: 500 is half of one."""

    id: UUID
    product: str
    use_by: date | None
    note: str
    closeout: UUID | None
    packages: int
    opened_thousandths: int
    created_at: datetime
    created_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StockMove:
    """What came in (above 0) or went out. `quote` is whose job it is for or comes from."""

    id: UUID
    entry: UUID
    kind: MoveKind
    packages: int
    opened_thousandths: int
    quote: UUID | None
    note: str
    created_at: datetime
    created_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StockHeld:
    """What a quote has out of an entry."""

    entry: UUID
    product: str
    use_by: date | None
    packages: int
    opened_thousandths: int


_ENTRY, _MOVE = columns(StockEntry), columns(StockMove)
# One move of an organisation's store after the other: whoever has the lock sees all moves before.
_LOCK = text("SELECT pg_advisory_xact_lock(hashtextextended('stock:' || CAST(:organisation AS text), 0))")
_INSERT = text("""
    INSERT INTO stock_entries (organisation, id, product, use_by, note, closeout, created_by, trace_id)
    VALUES (:organisation, :id, :product, :use_by, :note, :closeout, :actor, :trace_id)
""")
_MOVED = text("""
    WITH moved AS (
      INSERT INTO stock_moves
        (organisation, id, entry, kind, packages, opened_thousandths, quote, note, created_by, trace_id)
      VALUES (:organisation, :id, :entry, :kind, :packages, :opened_thousandths, :quote, :note, :actor,
        :trace_id)
      RETURNING organisation, entry, packages, opened_thousandths
    )
    UPDATE stock_entries AS kept
    SET packages = kept.packages + moved.packages,
      opened_thousandths = kept.opened_thousandths + moved.opened_thousandths
    FROM moved WHERE kept.organisation = moved.organisation AND kept.id = moved.entry
""")
_GET = text(f"SELECT {_ENTRY} FROM stock_entries WHERE organisation = :organisation AND id = :id")
_GET_MOVE = text(f"SELECT {_MOVE} FROM stock_moves WHERE organisation = :organisation AND id = :id")
_OF_CLOSEOUT = text("""
    SELECT id FROM stock_entries WHERE organisation = :organisation AND closeout = :closeout ORDER BY id
""")
_LIST = text(f"""
    SELECT {_ENTRY} FROM stock_entries
    WHERE organisation = :organisation AND (CAST(:before AS uuid) IS NULL OR id < :before)
      AND (CAST(:product AS text) IS NULL OR product = :product)
      AND (:used_up OR packages > 0 OR opened_thousandths > 0)
    ORDER BY id DESC LIMIT :limit
""")
_MOVES = text(f"""
    SELECT {_MOVE} FROM stock_moves
    WHERE organisation = :organisation AND entry = :entry
      AND (CAST(:before AS uuid) IS NULL OR id < :before)
    ORDER BY id DESC LIMIT :limit
""")
# What expires first goes first, and what has no day last.
_FREE = text(f"""
    SELECT {_ENTRY} FROM stock_entries
    WHERE organisation = :organisation AND product = ANY(:products)
      AND (packages > 0 OR opened_thousandths > 0) AND (use_by IS NULL OR use_by >= :day)
    ORDER BY use_by NULLS LAST, id
""")
_UNTOLD = text("""
    SELECT id FROM quotes
    WHERE organisation = :organisation AND state = 'accepted' AND (id = :quote OR job_id = :job)
      AND NOT EXISTS (
        SELECT FROM closeouts WHERE closeouts.organisation = quotes.organisation AND quote = quotes.id
      )
""")
_HELD = text("""
    SELECT moves.entry, kept.product, kept.use_by, -sum(moves.packages) AS packages,
      -sum(moves.opened_thousandths) AS opened_thousandths
    FROM stock_moves AS moves
    JOIN stock_entries AS kept ON kept.organisation = moves.organisation AND kept.id = moves.entry
    WHERE moves.organisation = :organisation AND moves.quote = ANY(:quotes) AND moves.kind = ANY(:kinds)
    GROUP BY moves.entry, kept.product, kept.use_by
    HAVING sum(moves.packages) < 0 OR sum(moves.opened_thousandths) < 0
    ORDER BY kept.use_by NULLS LAST, moves.entry
""")


class Stock:
    """The store of one organisation."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def lock(self) -> None:
        """Let nobody else move anything until this transaction ends; before reading what a move hangs on."""
        self._session.execute(_LOCK)

    def add(
        self,
        *,
        id: UUID,
        product: str,
        use_by: date | None,
        note: str,
        closeout: UUID | None,
        actor: str,
        trace_id: str,
    ) -> None:
        """Record an entry that has nothing yet. Raises AlreadyExists."""
        insert_new(
            self._session,
            _INSERT,
            table="stock_entries",
            record=id,
            id=id,
            product=product,
            use_by=use_by,
            note=note,
            closeout=closeout,
            actor=actor,
            trace_id=trace_id,
        )

    def move(
        self,
        *,
        id: UUID,
        entry: UUID,
        kind: MoveKind,
        packages: int,
        opened_thousandths: int,
        quote: UUID | None,
        note: str = "",
        actor: str,
        trace_id: str,
    ) -> None:
        """Record a move together with what it makes of its entry. Raises AlreadyExists; what would bring the
        entry below nothing is an error of the caller, who holds the lock and has looked."""
        insert_new(
            self._session,
            _MOVED,
            table="stock_moves",
            record=id,
            id=id,
            entry=entry,
            kind=kind,
            packages=packages,
            opened_thousandths=opened_thousandths,
            quote=quote,
            note=note,
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, id: UUID) -> StockEntry | None:
        """The entry, or None if the organisation has none with this id."""
        return one(self._session, _GET, StockEntry, id=id)

    def get_move(self, *, id: UUID) -> StockMove | None:
        """The move, or None if the organisation has none with this id."""
        return one(self._session, _GET_MOVE, StockMove, id=id)

    def of_closeout(self, *, closeout: UUID) -> tuple[UUID, ...]:
        """The entries that a closeout brought in."""
        return tuple(self._session.execute(_OF_CLOSEOUT, closeout=closeout).scalars())

    def page(
        self, *, limit: int, before: UUID | None, product: str | None, used_up: bool
    ) -> tuple[StockEntry, ...]:
        """Entries from the highest id down, of one product if given; those that are `used_up` if wanted."""
        return many(
            self._session, _LIST, StockEntry, limit=limit, before=before, product=product, used_up=used_up
        )

    def moves(self, *, entry: UUID, limit: int, before: UUID | None) -> tuple[StockMove, ...]:
        """Moves of an entry from the highest id down."""
        return many(self._session, _MOVES, StockMove, entry=entry, limit=limit, before=before)

    def free(self, *, products: Sequence[str], day: date) -> tuple[StockEntry, ...]:
        """Entries of these products that have something and may be used on `day`, soonest to expire first."""
        return many(self._session, _FREE, StockEntry, products=list(products), day=day)

    def held(self, *, quotes: Sequence[UUID]) -> tuple[StockHeld, ...]:
        """What these quotes reserved and did not give back, by entry."""
        return self._out(quotes, "reserved", "given-back")

    def held_on_site(self, *, quote: UUID | None, job: UUID | None) -> tuple[StockHeld, ...]:
        """What this accepted quote, or all of this job, hold and no closeout has told of: what a closed job
        left has come in again."""
        quotes = self._session.execute(_UNTOLD, quote=quote, job=job).scalars()
        return self.held(quotes=tuple(quotes))

    def reserved(self, *, quotes: Sequence[UUID]) -> tuple[StockHeld, ...]:
        """What these quotes reserved, given back or not, by entry."""
        return self._out(quotes, "reserved")

    def _out(self, quotes: Sequence[UUID], *kinds: MoveKind) -> tuple[StockHeld, ...]:
        return many(self._session, _HELD, StockHeld, quotes=list(quotes), kinds=list(kinds)) if quotes else ()
