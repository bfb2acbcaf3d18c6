"""Where each test stands in the drawing of a visit: on a wide sheet, and on a sheet as wide as a phone."""

from __future__ import annotations

from fanwright.report.pictures.bay_spots import Area

CAB = ("ask_driver", "recent_work")
CONTROL = (
    "stored_codes",
    "command_follow",
    "set_type_temps",
    "set_ac_time",
    "set_brake_fan",
    "recording_runs",
    "recording_reason",
)
ASKS = ("temp_switch", "ac_switch", "ac_pressures")
COIL = (
    "click",
    "feed_volts",
    "coil_ohms",
    "coil_amps",
    "jumper_feed",
    "feed_drop",
    "ground_drop",
    "pull_in_volts",
    "wiggle",
    "loom_ohms",
)
TANK = ("build_air", "listen_leaks", "soap_leaks")
FILTER = ("filter_drain",)
INLET = ("supply_gauge_still", "supply_gauge_cycling", "inlet_dip")
EXHAUST = ("vent_time", "exhaust_look", "exhaust_puff")
LINE = ("drive_gauge_air_on", "fill_time", "drive_gauge_air_off", "unplugged_drive_gauge", "hold_test")
PORT = ("hold_at_drive", "lift_off_pressure", "shop_air_direct")
FAN = (
    "fan_look",
    "let_go",
    "grip",
    "shroud_gap",
    "fan_alone_spin",
    "engage_sound",
    "unplugged_fan",
    "fan_speed_on",
    "fan_speed_off",
)
FACE = ("facing_thickness", "facing_look", "disc_look", "facing_spread", "gap_told_off", "drive_heat")
BELT = ("belt_look", "tensioner", "pulley_look", "belt_tension", "align")
HUB = ("hub_rock", "mount_tight", "belt_off_spin")
COOLING = ("cooler_look", "coolant_check")

WIDE, WIDE_HIGH = 800.0, 790.0
WIDE_AREAS: tuple[Area, ...] = (
    Area(14, 142, 156, 54, ASKS),
    Area(184, 32, 142, 128, CONTROL),
    Area(338, 10, 172, 92, COIL),
    Area(592, 40, 188, 86, LINE),
    Area(582, 172, 196, 100, EXHAUST),
    Area(14, 262, 122, 100, TANK),
    Area(140, 262, 124, 40, FILTER),
    Area(322, 244, 186, 96, INLET),
    Area(520, 296, 256, 54, PORT),
    Area(430, 538, 150, 116, FACE),
    Area(14, 604, 172, 106, BELT, "belt"),
    Area(190, 618, 122, 92, HUB, "mount, bearings"),
    Area(592, 634, 198, 124, FAN, "fan and shroud"),
    Area(694, 420, 102, 80, COOLING, "coolers"),
    Area(48, 718, 280, 46, CAB),
)

SMALL, SMALL_HIGH = 390.0, 1250.0
SMALL_AREAS: tuple[Area, ...] = (
    Area(8, 124, 162, 54, ASKS),
    Area(186, 28, 196, 128, CONTROL),
    Area(268, 222, 108, 98, LINE),
    Area(8, 330, 182, 130, COIL, "coil and wires"),
    Area(206, 330, 170, 124, EXHAUST, "exhaust"),
    Area(8, 512, 138, 92, TANK),
    Area(200, 500, 176, 98, INLET),
    Area(8, 606, 180, 54, FILTER, "filter"),
    Area(200, 606, 176, 76, PORT, "at the drive"),
    Area(8, 872, 180, 118, BELT, "belt"),
    Area(200, 872, 184, 136, FACE, "facing and steel face"),
    Area(8, 1004, 180, 92, HUB, "mount, bearings"),
    Area(200, 1018, 184, 172, FAN, "fan and shroud"),
    Area(8, 1104, 180, 90, COOLING, "coolers"),
    Area(44, 1202, 340, 44, CAB),
)
