"""What a column of a telemetry table can be: names, units, ranges, reasons, and a shop's own mapping."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from fanwright.errors import FileError
from fanwright.evidence.recording.signals import KELVIN, RPM, STATES, UNKNOWN
from fanwright.quantities import find_unit
from fanwright.words import Message, text

FLAG, CODE, WORD = "flag", "code", "word"
"""What a column without a unit holds: 0 or 1; a whole number; a word."""


@dataclass(frozen=True)
class Role:
    """One thing a column can be.

    Args:
        key: Its name here; that of the signal where the bus has it too.
        names: What headers call it, in small letters with blanks.
        kind: A dimension, or one of ``FLAG``, ``CODE``, ``WORD``.
        low: Lowest value that can be; anything lower says error or not available [SI].
        high: Highest value that can be [SI].
    """

    key: str
    names: tuple[str, ...]
    kind: str
    low: float = 0.0
    high: float = 0.0


_LOWEST_K, _HIGHEST_K = KELVIN - 60.0, KELVIN + 250.0
"""Wider than any engine or weather (assumption); -999 and the like lie outside."""
_MOST_RPM = 8031.875
_MOST_AIR_PA = 2.0e6


def _temperature(key: str, *names: str) -> Role:
    every = tuple(
        name for one in names for name in (one, " ".join((one, "temperature")), " ".join((one, "temp")))
    )
    return Role(key, every, "temperature", _LOWEST_K, _HIGHEST_K)


def _air(key: str, *names: str) -> Role:
    every = tuple("".join((one, end)) for one in names for end in ("", " pressure"))
    return Role(key, every, "pressure", 0.0, _MOST_AIR_PA)


ROLES: Mapping[str, Role] = MappingProxyType(
    {
        role.key: role
        for role in (
            Role("time", ("time", "timestamp", "time stamp", "date time", "datetime", "utc"), "time"),
            Role("told_on", ("told on", "fan told on", "fan on", "fan command", "fan"), FLAG),
            Role(
                "fan_percent",
                ("fan percent", "fan share", "fan speed percent", "estimated fan speed"),
                "share",
                0.0,
                1.0,
            ),
            Role("fan_state", ("fan state", "fan drive state", "fan drive status"), CODE),
            Role("reason", ("reason", "fan reason", "fan drive reason", "told on for"), WORD),
            Role("engine_speed", ("engine speed", "engine"), "rotation", 0.0, _MOST_RPM * RPM),
            Role("fan_speed", ("fan speed",), "rotation", 0.0, _MOST_RPM * RPM),
            _temperature("coolant", "coolant", "engine coolant"),
            _temperature("charge_air", "charge air", "intake manifold"),
            _temperature("oil", "oil", "engine oil"),
            _temperature("ambient", "ambient", "ambient air", "outside", "outside air"),
            _air("air_supply", "air", "air supply", "supply air", "supply"),
            _air("air_service_1", "air service 1", "service air 1"),
            _air("air_service_2", "air service 2", "service air 2"),
            Role("barometer", ("barometer", "barometric pressure"), "pressure_absolute", 30e3, 125e3),
            Role("road_speed", ("road speed", "vehicle speed", "speed"), "speed", 0.0, 251 / 3.6),
            Role("retarder_torque", ("retarder", "retarder torque"), "share", -1.25, 1.25),
            Role("fan_request", ("fan request", "cab fan request"), "share", 0.0, 1.0),
            Role("unit", ("unit", "unit number", "vehicle", "truck"), WORD),
            Role("vin", ("vin", "vehicle number"), WORD),
        )
    }
)  # fmt: skip
"""Ranges are those of the same signals on the bus; a temperature's and the barometer's are assumptions."""

TOLD = ("fan_state", "told_on", "fan_percent")
"""Any one of these says whether the fan is told on."""
NEEDED = ("time", "engine_speed")
EXAMPLE = "time [s],fan told on,reason,engine speed [rpm],coolant [°C],air [kPa]"

SPEEDS: Mapping[str, float] = MappingProxyType(
    {"m/s": 1.0, "km/h": 1.0 / 3.6, "kph": 1.0 / 3.6, "kmh": 1.0 / 3.6, "mph": 0.44704}
)
"""Units of road speed [m/s]; the mile an hour is exact (NIST SP 811 B.8)."""
SHARES: Mapping[str, float] = MappingProxyType({"%": 0.01, "percent": 0.01, "pct": 0.01, "share": 1.0})
FINE_TIMES: Mapping[str, float] = MappingProxyType({"us": 1e-6, "µs": 1e-6, "ns": 1e-9})

REASONS: Mapping[str, int] = MappingProxyType(
    {
        **{word: code for code, word in reversed(tuple(STATES.items())) if word},
        "oil": 3,
        "engine": 1,
        "other": 14,
        UNKNOWN: 15,
        "ac": 11,
        "a/c": 11,
        "off": 0,
        "": 0,
    }
)
"""Words of a reason, and the code that stands for it; 15 is told on without a known reason."""


@dataclass(frozen=True)
class Naming:
    """What a shop's tables call things.

    Args:
        columns: Column by role, with its unit where the header has none: ``{"coolant": "ECT [°C]"}``.
        reasons: Reason by the shop's own word for it: ``{"A-C": "air_conditioning"}``.
        unit: The one truck that is read where a table holds several; empty for all.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    reasons: Mapping[str, str] = field(default_factory=dict)
    unit: str = ""


def naming_from(table: Mapping[str, object], unit: str = "") -> Naming:
    """Read the table ``[telemetry]`` of a shop file.

    Args:
        table: Column by role, and a table ``reasons``.
        unit: The one truck that is read; empty for all.

    Raises:
        FileError: Every role and reason that is not known.

    Example:
        >>> naming_from({"coolant": "ECT [°C]", "reasons": {"A-C": "ac"}}).columns["coolant"]
        'ECT [°C]'
    """
    reasons = table.get("reasons", {})
    columns = {role: name for role, name in table.items() if role != "reasons"}
    mistakes = [
        Message(
            "[telemetry] {role} is not something a column can be; there are {known}",
            {"role": text(role), "known": text(", ".join(ROLES))},
        )
        for role in columns
        if role not in ROLES
    ]
    mistakes += [
        Message(
            "[telemetry] {role} = {name}: the name of a column is wanted, as {example}",
            {"role": text(role), "name": text(name), "example": text("ECT [°C]")},
        )
        for role, name in columns.items()
        if role in ROLES and not (isinstance(name, str) and name.strip())
    ]
    if not isinstance(reasons, Mapping):
        mistakes.append(Message("[telemetry] reasons must be a table such as «A-C» = «air_conditioning»"))
        reasons = {}
    mistakes += [
        Message(
            "[telemetry.reasons] {word} = {reason} is not a reason; there are {known}",
            {"word": text(word), "reason": text(reason), "known": text(", ".join(filter(None, REASONS)))},
        )
        for word, reason in reasons.items()
        if str(reason) not in REASONS
    ]
    if mistakes:
        raise FileError(mistakes)
    return Naming(
        {role: str(name) for role, name in columns.items()},
        {str(word): str(reason) for word, reason in reasons.items()},
        unit,
    )


def scale(kind: str, spelling: str) -> tuple[float, float] | None:
    """Give factor and offset of a unit of a dimension; None where it is not one.

    Example:
        >>> scale("speed", "km/h"), scale("temperature", "nonsense")
        ((0.2777777777777778, 0.0), None)
    """
    own = {"speed": SPEEDS, "share": SHARES}.get(kind)
    if own is not None:
        factor = own.get(spelling.casefold())
        return None if factor is None else (factor, 0.0)
    if kind == "time" and spelling.casefold() in FINE_TIMES:
        return FINE_TIMES[spelling.casefold()] * 1e6, 0.0
    unit = find_unit(spelling, kind)
    if unit is None:
        return None
    return (unit.factor * 1e6, 0.0) if kind == "time" else (unit.factor, unit.offset)
