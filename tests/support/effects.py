"""Counts what really happened to runs and steps, seen by Postgres itself and not by the code under test."""

from collections import Counter
from dataclasses import dataclass
from uuid import UUID

import psycopg

_WATCH = """
    CREATE TABLE effects (
      at timestamptz NOT NULL DEFAULT clock_timestamp(),
      run uuid NOT NULL, ordinal smallint, state text NOT NULL
    );
    CREATE FUNCTION watch_step() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER AS $$
    BEGIN
      IF NEW.state = 'done' THEN
        INSERT INTO effects (run, ordinal, state) VALUES (NEW.run, NEW.ordinal, NEW.state);
      END IF;
      RETURN NULL;
    END $$;
    CREATE FUNCTION watch_run() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER AS $$
    BEGIN
      IF NEW.state NOT IN ('queued', 'running') THEN
        INSERT INTO effects (run, state) VALUES (NEW.id, NEW.state);
      END IF;
      RETURN NULL;
    END $$;
    CREATE TRIGGER watch AFTER UPDATE OF state ON run_steps FOR EACH ROW EXECUTE FUNCTION watch_step();
    CREATE TRIGGER watch AFTER UPDATE OF state ON runs FOR EACH ROW EXECUTE FUNCTION watch_run();
"""


@dataclass(frozen=True, kw_only=True)
class Effects:
    """Ends of runs and of steps, each as often as it happened."""

    runs: Counter[tuple[UUID, str]]
    steps: Counter[tuple[UUID, int]]

    def doubled(self) -> list[tuple[UUID, object]]:
        """What happened more than once."""
        seen = Counter(run for run, _ in self.runs.elements())
        runs: list[tuple[UUID, object]] = [(run, "run") for run, count in seen.items() if count > 1]
        return runs + [key for key, count in self.steps.items() if count > 1]


def watch_effects(*, owner_url: str) -> None:
    """Have Postgres write down every end of a run and of a step from now on."""
    with psycopg.connect(owner_url) as owner:
        owner.execute(_WATCH)


def read_effects(*, owner_url: str) -> Effects:
    """What has been written down."""
    with psycopg.connect(owner_url) as owner:
        rows = owner.execute("SELECT run, ordinal, state FROM effects").fetchall()
    return Effects(
        runs=Counter((run, state) for run, ordinal, state in rows if ordinal is None),
        steps=Counter((run, ordinal) for run, ordinal, _ in rows if ordinal is not None),
    )
