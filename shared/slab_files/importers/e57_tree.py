"""The XML part of E57: which scans there are, where their points begin and how they are packed."""

from dataclasses import dataclass
from xml.etree import ElementTree

from slab_files.importers.e57_codecs import Field
from slab_files.importers.refusals import malformed, unsupported

CARTESIAN = ("cartesianX", "cartesianY", "cartesianZ")
SPHERICAL = ("sphericalRange", "sphericalAzimuth", "sphericalElevation")
MOST_XML_BYTES = 32_000_000
MOST_FIELDS = 64

Quaternion = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """One scan: its points begin at a physical place; `turn` is a unit quaternion (w, x, y, z)."""

    begin: int
    count: int
    fields: tuple[Field, ...]
    axes: tuple[str, str, str]
    invalid: str
    turn: Quaternion
    shift: tuple[float, float, float]


def scans_of(xml: bytes) -> tuple[Scan, ...]:
    """Raises InputRefused where the tree is not one of E57."""
    if b"<!DOCTYPE" in xml or b"<!ENTITY" in xml:
        raise malformed("The file's XML declares entities, which E57 does not use.")
    try:
        root = ElementTree.fromstring(xml)
    except (ElementTree.ParseError, ValueError) as problem:
        raise malformed(f"The file's XML cannot be read: {problem}.") from None
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
    return tuple(_scan(element) for element in root.findall("data3D/*"))


def _scan(element: ElementTree.Element) -> Scan:
    points = element.find("points")
    prototype = element.find("points/prototype")
    if points is None or prototype is None or len(prototype) > MOST_FIELDS:
        raise malformed("A scan of the file does not say how its points are written.")
    fields = tuple(_field(child) for child in prototype)
    names = {field.name for field in fields}
    axes = next((axes for axes in (CARTESIAN, SPHERICAL) if names.issuperset(axes)), None)
    if axes is None:
        raise unsupported("The points of a scan have neither x, y, z nor range, azimuth, elevation.")
    invalid = "cartesianInvalidState" if axes == CARTESIAN else "sphericalInvalidState"
    return Scan(
        begin=_count(points.get("fileOffset"), "fileOffset"),
        count=_count(points.get("recordCount"), "recordCount"),
        fields=fields,
        axes=axes,
        invalid=invalid if invalid in names else "",
        turn=_turn(element),
        shift=_shift(element),
    )


def _field(element: ElementTree.Element) -> Field:
    kind, name = element.get("type", ""), element.tag
    if kind == "Float":
        return Field(name=name, kind="f4" if element.get("precision") == "single" else "f8")
    if kind not in ("Integer", "ScaledInteger"):
        raise unsupported(f"The field {name} of the points has the type {kind!r}.")
    low = _whole(element.get("minimum", str(-(2**63))), "minimum")
    high = _whole(element.get("maximum", str(2**63 - 1)), "maximum")
    if not -(2**63) <= low <= high < 2**63:
        raise malformed(f"The field {name} has values from {low} to {high}.")
    scale, offset = (1.0, 0.0)
    if kind == "ScaledInteger":
        scale, offset = _float(element.get("scale", "1")), _float(element.get("offset", "0"))
    return Field(name=name, kind="whole", low=low, high=high, scale=scale, offset=offset)


def _turn(element: ElementTree.Element) -> Quaternion:
    found = element.find("pose/rotation")
    if found is None:
        return (1.0, 0.0, 0.0, 0.0)
    w, x, y, z = (_float(found.findtext(part) or "0") for part in "wxyz")
    if abs(w * w + x * x + y * y + z * z - 1.0) > 1e-3:
        raise malformed("The rotation of a scan is not of length 1.")
    return (w, x, y, z)


def _shift(element: ElementTree.Element) -> tuple[float, float, float]:
    found = element.find("pose/translation")
    if found is None:
        return (0.0, 0.0, 0.0)
    x, y, z = (_float(found.findtext(part) or "0") for part in "xyz")
    return (x, y, z)


def _whole(word: str | None, name: str) -> int:
    try:
        return int(word or "")
    except ValueError:
        raise malformed(f"The file's XML has {str(word)[:40]!r} as {name}.") from None


def _count(word: str | None, name: str) -> int:
    number = _whole(word, name)
    if not 0 <= number < 2**63:
        raise malformed(f"The file's XML has {number} as {name}.")
    return number


def _float(word: str) -> float:
    try:
        return float(word)
    except ValueError:
        raise malformed(f"The file's XML has {word[:40]!r} where a number should be.") from None
