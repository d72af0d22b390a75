"""What the demo prints of an estimate, from the JSON that any client gets."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from slab_core.units.conversions import cubic_feet, square_feet
from slab_core.units.display import feet_inches, inches
from slab_local.demo.table import heading, table, wrapped

Json = dict[str, Any]
WORST_SHOWN = 5


def tolerance(report: Json) -> Iterator[str]:
    """What the floor is, how sure that is, and where its worst places are."""
    yield heading(f"Flatness as found: {report['floor_id']}: {report['verdict']}")
    for rule in report["rules"]:
        yield f"{_as_fitted(rule)}{_chance(rule['chance'])}"
        rows = [_place(place) for place in rule["worst"][:WORST_SHOWN]]
        if rows:
            yield table(head=("off by", "kind", "from the walls"), rows=rows)


def _chance(chance: Json | None) -> str:
    """The verdict on one rule by what the readings leave unsure."""
    if chance is None:
        return ""
    return f"; {chance['verdict']}, as it holds with a chance of {100 * chance['probability']:.0f} %"


def _as_fitted(rule: Json) -> str:
    wanted = f"{inches(rule['rule']['gap_m'])} in {feet_inches(rule['used_length_m'])}"
    found = inches(rule["largest_m"])
    if rule["passes"]:
        return f"  passes {wanted}: largest departure {found}"
    share = f"{100 * rule['failing_share']:.0f} % of the floor"
    return f"  FAILS {wanted}: largest departure {found}, over {share}"


def _place(place: Json) -> tuple[str, str, str]:
    walls = " and ".join(
        f"{feet_inches(w['distance_m'])} from wall {w['wall']} of {w['room']}" for w in place["walls"]
    )
    return inches(place["departure_m"]), place["side"], walls


def correction(plan: Json) -> Iterator[str]:
    """What is ground and filled, pour by pour."""
    yield heading(f"The fix: {plan['floor_id']} ({plan['alternate']})")
    yield (
        f"  grind {square_feet(plan['grind_m2']):.0f} ft² by up to {inches(plan['greatest_grind_m'])}"
        f" ({plan['grinder_hours'] + plan['hand_grinder_hours']:.1f} machine hours),"
        f" fill {square_feet(plan['fill_m2']):.0f} ft² by up to {inches(plan['greatest_fill_m'])}"
        f" ({cubic_feet(plan['fill_m3']):.1f} ft³, {plan['bags']} bags)"
    )
    solve = plan["solve"]
    yield (
        f"  cheapest plane: {solve['objective']:.0f} in planning costs, proven to be at least"
        f" {solve['bound']:.0f} ({solve['status']})"
    )
    if plan["pours"]:
        rows = [_pour(pour) for pour in plan["pours"]]
        head = ("pour", "area ft²", "mean", "deepest", "bags", "minutes", "flows for", "pins")
        yield table(head=head, rows=rows, right=frozenset(range(1, 8)))
    for rule in plan["after"]:
        yield "  after:" + _as_fitted(rule).removeprefix(" ")


def _pour(pour: Json) -> tuple[str, ...]:
    return (
        pour["id"],
        f"{square_feet(pour['area_m2']):.0f}",
        inches(pour["mean_depth_m"]),
        inches(pour["greatest_depth_m"]),
        str(pour["bags"]),
        f"{pour['minutes']:.0f}",
        f"{pour['flow_minutes']:.0f}",
        str(len(pour["pins"])),
    )


def layout(plan: Json) -> Iterator[str]:
    """The boards in one paragraph; the cut list itself is at the layout's URL."""
    yield heading(f"Boards: {plan['floor_id']}")
    yield (
        f"  {plan['rows']} rows, the first {inches(plan['first_row_m'])} wide and the last"
        f" {inches(plan['last_row_m'])}, {len(plan['pieces'])} pieces from {plan['boards']} boards,"
        f" {plan['cuts']} cuts"
    )
    yield (
        f"  waste {100 * plan['waste_share']:.1f} % (no less than {100 * plan['waste_bound_share']:.1f} % for"
        f" these rows), {plan['cartons']} cartons, {len(plan['spreads'])} spreads of adhesive"
    )


def takeoff(lines: Sequence[Json]) -> Iterator[str]:
    """Everything to buy, in whole packages, and everything to do."""
    if not lines:
        return
    yield heading("Takeoff")
    bought = [
        (line["what"], f"{line['net']:.2f}", line["unit"], f"{100 * line['waste_share']:.0f} %", _order(line))
        for line in lines
        if line["kind"] == "material"
    ]
    yield table(head=("to buy", "net", "", "waste", "order"), rows=bought, right=frozenset({1, 3}))
    yield ""
    done = [
        (line["what"], f"{line['order']:.2f}", line["unit"]) for line in lines if line["kind"] != "material"
    ]
    yield table(head=("to do", "", ""), rows=done, right=frozenset({1}))


def _order(line: Json) -> str:
    return f"{line['order']:.0f} {line['package']}"


def schedule(plan: Json, *, time_zone: str) -> Iterator[str]:
    """Every activity with its local start and end."""
    yield heading(f"Schedule: {plan['site_days']} days on site, {plan['person_hours']:.0f} person-hours")
    what = {activity["id"]: activity for activity in plan["activities"]}
    rows = []
    for placed in sorted(plan["placed"], key=lambda p: (p["start_at"], p["end_at"])):
        activity = what[placed["activity"]]
        start, end = (_local(placed[k], time_zone) for k in ("start_at", "end_at"))
        rows.append((start, end, str(activity["people"]), activity["what"]))
    yield table(head=("from", "to", "people", "what"), rows=rows, right=frozenset({2}))
    for line in plan["critical"]:
        yield wrapped(line)


def _local(moment: str, time_zone: str) -> str:
    return datetime.fromisoformat(moment).astimezone(ZoneInfo(time_zone)).strftime("%a %d %b %H:%M")


def quote(offer: Json, *, takeoff: Sequence[Json]) -> Iterator[str]:
    """Line by line to the total, in the order of the takeoff."""
    yield heading("Quote")
    place = {tuple(line["key"].values()): i for i, line in enumerate(takeoff)}
    lines = sorted(offer["lines"], key=lambda line: place.get(tuple(line["key"].values()), len(place)))
    rows = [
        (line["what"], line["quantity"], line["unit"], _money(line["price"]), _money(line["tax"]))
        for line in lines
    ]
    yield table(head=("what", "quantity", "unit", "price", "tax"), rows=rows, right=frozenset({1, 3, 4}))
    for name in ("subtotal", "tax", "total"):
        yield f"  {name:<10}{_money(offer[name]):>12} {offer['currency']}"
    yield wrapped(f"good until {offer['expires']}; rounding: {offer['rounding']}")


def alternates(found: Sequence[Json]) -> Iterator[str]:
    """What each alternate comes to, where there are several."""
    if len(found) < 2:
        return
    yield heading("Alternates")
    head = ("alternate", "bags", "grinding h", "pour days", "days on site", "total", "")
    yield table(head=head, rows=[_alternate(each) for each in found], right=frozenset(range(1, 6)))


def _alternate(each: Json) -> tuple[str, ...]:
    if each["refused"]:
        return (each["alternate"], "", "", "", "", "", "cannot be done")
    return (
        each["alternate"],
        str(each["bags"]),
        f"{each['grinding_hours']:.1f}",
        str(each["pour_days"]),
        str(each["site_days"]),
        f"{_money(each['total'])} {each['total']['currency']}",
        "passes" if each["passes"] else "FAILS",
    )


def _money(value: Json) -> str:
    return f"{value['amount']}"


def problems(found: Sequence[Json]) -> Iterator[str]:
    """What a person must know, the safety texts last."""
    order = ("refusal", "finding", "warning", "caution")
    names = {"refusal": "Refused", "finding": "Findings", "warning": "Second look", "caution": "Cautions"}
    for severity in order:
        texts = [p for p in found if p["severity"] == severity]
        if texts:
            yield heading(names[severity])
            for problem in texts:
                yield wrapped(problem["detail"])
