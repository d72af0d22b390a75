"""Which work comes after which: the order of a floor, from furniture out to hand-over."""

AFTER: dict[str, tuple[str, ...]] = {
    "furniture-out": (),
    "acclimation": (),
    "containment": ("furniture-out",),
    "base-off": ("furniture-out",),
    "tear-out": ("containment", "base-off"),
    "moisture-test": ("tear-out",),
    "moisture-read": ("moisture-test",),
    "survey": ("tear-out",),
    # What was poured before the work that is left begins.
    "resting": (),
    "bond-grind": ("survey", "resting"),
    "edge-grind": ("survey", "resting"),
    "grind": ("bond-grind",),
    "hand-grind": ("edge-grind",),
    # Pins stand in the low places that are filled, height is ground off the high ones: side by side.
    "pins": ("bond-grind", "edge-grind"),
    "dams": ("pins",),
    "prime": ("dams", "grind", "hand-grind"),
    "pour": ("prime",),
    "edges": ("pour",),
    "patch": ("edges",),
    "skim": ("patch",),
    # Taken again once what stands wet on the slab is in, and read when the floor is signed off.
    "moisture-retest": ("edges",),
    "moisture-reread": ("moisture-retest", "verify"),
    "polish": ("skim",),
    "finish": ("polish",),
    "verify": ("finish",),
    "pre-cut": ("survey",),
    "undercut": ("skim",),
    "casing-legs": ("skim",),
    "spread": (
        "verify",
        "undercut",
        "casing-legs",
        "pre-cut",
        "moisture-read",
        "moisture-reread",
        "acclimation",
    ),
    "tape-off": ("spread",),
    "transitions": ("tape-off",),
    "trim": ("tape-off",),
    "carpet-edge": ("tape-off",),
    "clean": ("transitions", "trim", "carpet-edge"),
    "furniture-in": ("clean",),
    "hand-over": ("furniture-in",),
}
"""Direct predecessors. Where one is absent from a job its own predecessors take its place."""

AT_THE_END = frozenset({"clean", "furniture-in", "hand-over"})
"""Done once for the whole job, these follow every phase; other work of the whole job goes with the first."""

UNKNOWN_AFTER = ("verify",)
UNKNOWN_BEFORE = "clean"


def predecessors(*, code: str, present: frozenset[str]) -> tuple[str, ...]:
    """Codes of the job that a code comes right after, in the order of the floor.

    A code the order does not know runs after the check of the floor and before the clean-up.
    """
    direct = AFTER.get(code, UNKNOWN_AFTER)
    if code == UNKNOWN_BEFORE:
        direct = (*direct, *sorted(present - AFTER.keys()))
    found: list[str] = []
    for before in direct:
        nearest = (before,) if before in present else predecessors(code=before, present=present)
        found.extend(c for c in nearest if c not in found)
    return tuple(found)
