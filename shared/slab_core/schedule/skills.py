"""Which trade each kind of work asks for: common practice, no single source."""

SLAB, WOOD, ANY = "slab", "wood", "any"
"""Work on the concrete, work on the boards, and what everybody can do."""

SKILLS = (SLAB, WOOD)
"""What a crew may be said to be able to do; it can do the rest anyway."""

_WOOD = frozenset(
    {"acclimation", "undercut", "casing-legs", "pre-cut", "spread", "tape-off"}
    | {"transitions", "trim", "carpet-edge"}
)
_ANY = frozenset(
    {"furniture-out", "containment", "base-off", "tear-out", "clean", "furniture-in", "hand-over"}
)


def skill_of(code: str) -> str:
    """The skill that a kind of work needs; of work that is not known here, that of the slab."""
    if code in _WOOD:
        return WOOD
    return ANY if code in _ANY else SLAB
