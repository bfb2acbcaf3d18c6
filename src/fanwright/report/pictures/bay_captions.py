"""The short names that stand beside readings in the drawing of a visit."""

from __future__ import annotations

from fanwright.report.pictures.notes import CAPTIONS as SHORT

CAPTIONS: dict[str, str] = SHORT | {
    "ask_driver": "the driver says",
    "recent_work": "work, last 90 days",
    "stored_codes": "codes",
    "set_type_temps": "type, temperatures",
    "set_ac_time": "A/C fan time",
    "set_brake_fan": "fan, engine brake",
    "command_follow": "command",
    "recording_runs": "recorded runs",
    "recording_reason": "recorded reason",
    "temp_switch": "coolant sensor",
    "ac_switch": "A/C switch",
    "ac_pressures": "A/C pressures",
    "feed_drop": "lost in the feed",
    "ground_drop": "lost in the ground",
    "loom_ohms": "loom",
    "listen_leaks": "leaks, by ear",
    "soap_leaks": "leaks, by soap",
    "inlet_dip": "dip in a cycle",
    "unplugged_drive_gauge": "unplugged",
    "unplugged_fan": "unplugged",
    "shop_air_direct": "shop air direct",
    "gap_told_off": "gap, told off",
    "drive_heat": "drive face",
    "engage_sound": "sound as it grips",
    "fan_speed_on": "speed, told on",
    "fan_speed_off": "speed, told off",
    "fan_alone_spin": "fan alone",
    "belt_off_spin": "pulley alone",
    "align": "line-up",
    "cooler_look": "cooler faces",
    "coolant_check": "coolant",
}
