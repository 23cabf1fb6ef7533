"""What the window itself says, in one place: whole sentences with named gaps, never joined from pieces.

:func:`say` hands each text to Qt's translation (context ``Skepway``) before its gaps are filled, so a translation
of these constants changes titles, buttons, hints and guides. Two things it does not do: ``lupdate`` finds no text
here, as none stands in the call itself, so a translator's file has to be made from the constants; and the answers,
reasons, verdicts and cautions come from ``app`` and stay English.
"""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from planner import words
from planner.services.forecast.registry import SERVICES as FORECASTS

_KEYED = "window."
"""So begin the keys of the sentences that stand in the catalogue of words, as every new one does."""


def say(text: str, **gaps: object) -> str:
    """``text`` in the user's language with its named gaps filled; a key of the catalogue gives its sentence."""
    if text.startswith(_KEYED):
        return words.say(text, **gaps)
    spoken = QCoreApplication.translate("Skepway", text)
    if not gaps:
        return spoken
    try:
        return spoken.format(**gaps)
    except (KeyError, IndexError, ValueError):  # a translation with a misspelt gap must not stop the program
        return text.format(**gaps)


# -- clock and quantities ------------------------------------------------------------------------

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAY_SHORT = "{weekday} {day} {month}"
DAY_HOUR = "{weekday} {hour}"
MINUTES = "{minutes} min"
HOURS_MINUTES = "{hours} h {minutes} min"
UNKNOWN_VALUE = "not known"
WATTS = "{watts} W"

# -- window --------------------------------------------------------------------------------------

APP = "Skepway"
WINDOW_TITLE = "{title}[*] · Skepway"
STALE = "being worked out again"
STALE_FAULTY = "out of date: correct the marked fields on the left"
STALE_STOPPED = "out of date: stopped"
NOTICE_SHOW = "Show"
NEW_TITLE = "New trip"
ENTRY_STRAIGHT = "{start} to {end}, {boxes} boxes"
ENTRY_ONE_STOP = "{start} to {end}, {boxes} boxes, one stop"
ENTRY_STOPS = "{start} to {end}, {boxes} boxes, {stops} stops"
PLACE_KEPT = "{name} is remembered"
UNTITLED = "Untitled trip"
ROUTE_ROAD_COMING = "window.route_road_coming"
TITLE_ENDS = "window.title_ends"

MENU_FILE = "&File"
MENU_EDIT = "&Edit"
MENU_VIEW = "&View"
MENU_HELP = "&Help"
ACT_NEW = "&New trip"
ACT_OPEN = "&Open…"
ACT_DEMO = "Open a &demo trip"
ACT_SAVE = "&Save"
ACT_SAVE_AS = "Save &as…"
ACT_IMPORT = "&Import a road (GPX, GeoJSON)…"
ACT_PRINT = "&Print…"
ACT_PDF = "Save the view as PD&F…"
ACT_START = "S&tart page"
ACT_QUIT = "&Quit"
ACT_UNDO = "&Undo"
ACT_REDO = "&Redo"
ACT_STOP = "S&top working"
ACT_AGAIN = "Work out &again"
ACT_FRESH = "&Fetch the forecast again"
ACT_UNITS_METRIC = "&Metric units (°C, km)"
ACT_UNITS_US = "&US units (°F, miles)"
ACT_LIGHT = "&Light"
ACT_DARK = "&Dark"
ACT_NIGHT = "Red &night"
ACT_BIGGER = "Lar&ger type"
ACT_SMALLER = "&Smaller type"
ACT_FIT = "Show the &whole road"
ACT_TILES = "Street &tiles…"
ACT_CAUTIONS = "&Cautions"
ACT_TRIPS = "&What we say of thirty common trips"
ACT_MODEL = "The &model in one drawing"
ACT_KEYS = "&Keyboard"
ACT_ABOUT = "&About Skepway"
FILTER_TRIP = "Trip files (*.toml);;All files (*)"
FILTER_ROAD = "Tracks (*.gpx *.geojson *.json *.kml);;All files (*)"
FILTER_PDF = "PDF (*.pdf)"
FILTER_PNG = "Picture (*.png)"
FILTER_SVG = "Drawing (*.svg)"
FILTER_CSV = "Table (*.csv)"
SAVED = "Saved {path}"
WROTE = "Wrote {path}"
UNSAVED_TITLE = "Keep your changes?"
UNSAVED_TEXT = "The trip “{title}” has changes that are not saved."
RECOVERED = "Recovered “{title}” as it was {age} ago. It is not saved yet."
CRASH_TITLE = "Something went wrong inside Skepway"
CRASH_TEXT = "Your trip is kept in the recovery file. The details below help to mend the fault."

# -- first page ----------------------------------------------------------------------------------

FIRST_HEAD = "Keep the bees alive on the road"
FIRST_LEAD = (
    "Say where from, where to and what rides. Skepway follows every box from closing to opening, through the "
    "weather it will meet, and shows when to leave, where each box should ride and what to change on it."
)
FIRST_NEW = "New trip"
FIRST_OPEN = "Open a trip…"
FIRST_DEMOS = "Three invented trips to learn from"
FIRST_RECENT = "Recent trips"
FIRST_NO_DEMOS = "The demo trips are not installed with this copy."
FIRST_NO_RECENT = "Trips you save will be listed here."
FIRST_RECOVER = "Take it up again"
FIRST_LEFT = "“{title}” was open and not saved when Skepway last stopped."
FIRST_ADVICE = "Advice with a margin, never permission."

# -- answer bar ----------------------------------------------------------------------------------

ANSWER_NAME = "Answer"
ANSWER_EMPTY = "Enter your trip on the left; the answer appears here."
UNSAID = {
    "origin": "Where does the trip start? Type a town or coordinates on the left, or point at the map.",
    "destination": "And where does it end?",
    "load": "What rides? Open the step “Load” and add the boxes.",
}
ANSWER_WORKING = "Working it out…"
ANSWER_FAULTS_ONE = "One thing on the left needs mending before there is an answer."
ANSWER_FAULTS = "{count} things on the left need mending before there is an answer."
ANSWER_STOPPED_EMPTY = "Stopped. Change anything, or press F5, to start again."
ANSWER_NO_DATA = "There is no answer yet: see the message at the foot."
ANSWER_WEATHER_AGE = "{source}, {age} old"
ANSWER_CAUTIONS = "Cautions"
ANSWER_WHY = "Why"
ANSWER_STOP = "Stop"
ANSWER_PROGRESS = "{share} % of all departures worked out"

# -- route ---------------------------------------------------------------------------------------

ROUTE_TITLE_FIELD = "Name of the trip"
ROUTE_FROM = "From"
ROUTE_TO = "To"
ROUTE_ADD_STOP = "Add a stop"
ROUTE_NO_STOPS = "No stops: the vehicle drives straight through."
ROUTE_PLACE_HINT = "Town, or 52.08, -1.02"
ROUTE_SAVE_PLACE = "Remember this place"
ROUTE_FROM_MAP = "Take it from the map"
ROUTE_FROM_MAP_HINT = "Click the map to set this place."
ROUTE_UP = "Move this stop up"
ROUTE_DOWN = "Move this stop down"
ROUTE_REMOVE = "Remove this stop"
ROUTE_PURPOSE = "Why"
ROUTE_DWELL = "min"
ROUTE_SHADE = "Shade"
ROUTE_DOORS = "Doors"
ROUTE_ENGINE = "Engine"
PURPOSES = {
    "load": "load boxes",
    "unload": "unload boxes",
    "rest": "rest",
    "fuel": "fuel",
    "break": "legal break",
}
PURPOSES_BRIEF = {
    "load": "window.purpose_load",
    "unload": "window.purpose_unload",
    "break": "window.purpose_break",
}
ROUTE_FIRST = "Earliest departure"
ROUTE_LAST = "Latest departure"
ROUTE_STEP = "Try a departure every"
ROUTE_CLOSING = "Boxes shut"
CLOSINGS = {
    "after_sunset": "after sunset",
    "before_sunrise": "before sunrise",
    "clock": "at a clock time",
    "at_loading": "at loading",
}
ROUTE_DELAY = {"after_sunset": "window.delay_sunset", "before_sunrise": "window.delay_sunrise"}
ROUTE_CLOCK = "Clock time"
ROUTE_ARRIVAL = "Arrival"
ROUTE_BEFORE_LIGHT = "before light"
ROUTE_LATEST = "by"
ROUTE_VEHICLE = "Vehicle"
ROUTE_FACTOR = "Driving time against the map's"
ROUTE_NET = "net over the load"
ROUTE_WAIT_SHADE = "closed boxes wait in shade"
ROUTE_WEATHER_HEAD = "Weather"
ROUTE_WEATHER = "Taken from"
WEATHERS = {
    **{service.source: f"forecast, {service.title}" for service in FORECASTS},
    "own": "what I expect myself",
    "file": "a table beside the trip",
    "embedded": "a table inside the trip",
}
OWN_LOW = "dawn"
OWN_HIGH = "afternoon"
OWN_DEW = "dew point"
OWN_SKY = "sky"
OWN_DAY = "{weekday} {day}"
OWN_CELL = "{day}, {what}"
SKIES = {"clear": "clear", "partly_cloudy": "partly cloudy", "overcast": "overcast"}
ROUTE_ROAD_NONE = "No road yet: set both ends."
ROUTE_ROAD_TEXT = "{length}, {time} at the wheel. {source}"
ROUTE_IMPORT = "Drop a GPX or GeoJSON track here to use your own road."
PLACE_NEAR = "near {town}"
PLACE_POINT = "{name} ({point})"
STOP_PLACE = "Place"
PER_CENT = "{value} %"

# -- map -----------------------------------------------------------------------------------------

MAP_TITLE = "Road"
MAP_GUIDE = (
    "The road appears here once both ends are set. Type the places on the left, or take them from the map."
)
MAP_QUANTITY = "Colour the road by"
MAP_QUANTITIES = {
    "outside": "air temperature",
    "core": "inside the box",
    "sun": "sun on the load",
    "wind": "wind",
    "rain": "window.map_rain",
    "stand": "window.map_stand",
}
OFFER_TYPICAL = "window.offer_typical"
OFFER_TYPICAL_NEAR = "window.offer_typical_near"
STAND_HERE = "window.stand_here"
MAP_WORST = "window.map_worst"
SUN_FROM = {
    "above": "window.sun_from_above",
    "front": "window.sun_from_front",
    "right": "window.sun_from_right",
    "back": "window.sun_from_back",
    "left": "window.sun_from_left",
}
READ_SUN = "window.read_sun"
RAIN_MM = "window.rain_mm"
RAIN_IN = "window.rain_in"
ACT_BESIDE = "window.act_beside"
MAP_FIT = "Show the whole road"
MAP_ATTRIBUTION = "{tiles} Land and borders: Natural Earth. Towns: GeoNames, CC BY 4.0. {extra}"

TILES_TITLE = "Street tiles"
TILES_MANNERS = (
    "Skepway draws land, borders and towns by itself. If you have the use of a tile server, its streets can lie under "
    "the road. Read the server's rules first; only what is in sight is fetched and kept."
)
TILES_URL = "Address of a tile"
TILES_CREDIT = "Credit the server asks for"
TILES_FAULT = "The address must begin with https:// and hold {z}, {x} and {y}."
TILES_NO_CREDIT = "Every server asks to be credited: copy its line here."

# -- board ---------------------------------------------------------------------------------------

BOARD_TITLE = "Departures"
BOARD_GUIDE = (
    "Each departure and place has a cell here, with the harm to be expected of it, once the trip is complete."
)
BOARD_SETUP = "What the cells say"
BOARD_CELL_UNKNOWN = "not known: the weather is missing for part of this trip"
BOARD_HINT = "Arrow keys choose · shift-click or space pins A and B for comparing"
LEVELS = ("clear", "caution", "harm", "not known")

# -- curves --------------------------------------------------------------------------------------

CURVES_TITLE = "Inside the hottest box"
CURVES_PLAIN = "Temperatures"
CURVES_HOTTEST = "the hottest boxes"
CURVES_GUIDE = "Choose a cell of the board to see how warm its boxes run, from closing to opening."
CURVES_GROUP = "Boxes"
CURVES_EXPORT = "Export"
CURVES_EXPORT_PNG = "Picture (PNG)…"
CURVES_EXPORT_SVG = "Drawing (SVG)…"
CURVES_EXPORT_CSV = "Table (CSV)…"
CURVES_RESET = "Whole trip"

# -- road strip ----------------------------------------------------------------------------------

STRIP_TITLE = "Along the road"
STRIP_AIR = "air"
STRIP_DEW = "dew point"
STRIP_DEW_BRIEF = "dew"
STRIP_SUN = "sun"
STRIP_WIND = "wind"
STRIP_SPEED = "speed"
STRIP_HEIGHT = "height"
STRIP_SUN_VALUE = "{value} W/m²"

# -- ledger --------------------------------------------------------------------------------------

LEDGER_TITLE = "Heat balance"
LEDGER_AT = "at {when}"
LEDGER_GUIDE = "Heat made against heat lost, at the moment under the cursor."
LEDGER_IN = "heat in"
LEDGER_OUT = "heat out"
LEDGER_TERMS = {
    "adults": "bees",
    "brood": "brood",
    "sun": "sun and sky",
    "air": "air through the openings",
    "walls": "walls",
    "water": "water evaporated",
    "stored": "combs",
}
LEDGER_TERMS_SHORT = {
    "adults": "bees",
    "brood": "brood",
    "sun": "sun and sky",
    "air": "air",
    "walls": "walls",
    "water": "water",
    "stored": "combs",
}
LEDGER_WARMING = "{watts} W stay behind: the combs are warming."
LEDGER_COOLING = "{watts} W more leave than come in: the combs are cooling."
LEDGER_EVEN = "In balance: what comes in goes out."

# -- load ----------------------------------------------------------------------------------------

LOAD_ADD = "Add boxes"
LOAD_COPY = "Copy"
LOAD_REMOVE = "Remove"
LOAD_NONE = "Nothing is loaded yet. Add the boxes that will ride."
LOAD_LABEL = "Name"
LOAD_COUNT = "How many"
LOAD_TYPE = "Box"
LOAD_BEES = "Frames of bees"
LOAD_BEES_KG = "Bees by weight"
LOAD_OPEN_BROOD = "Open brood frames"
LOAD_SEALED_BROOD = "Sealed brood frames"
LOAD_STORES = "Stores frames"
LOAD_THIN = "of it thin syrup"
LOAD_CAN = "Syrup in the can"
LOAD_STAND = "Stands"
LOAD_STAND_USUAL = "as usual there"
LOAD_FLOOR = "Floor"
LOAD_FLOOR_BLOCKED = "Floor blocked"
LOAD_ROOF = "Roof"
LOAD_ROOF_BLOCKED = "Roof blocked"
LOAD_ENTRANCE = "Entrance"
LOAD_MISTING = "Misting each time"
LOAD_MIST_FIRST = "first after"
LOAD_MIST_EVERY = "then every"
LOAD_FOAM = "Water on the foam"
LOAD_COMB = "Comb"
LOAD_PLACE = "Travels in"
LOAD_ANYWHERE = "wherever is best"
LOAD_BOARDS = "Loaded at"
LOAD_LEAVES = "Unloaded at"
LOAD_END = "the end"
LOAD_PLACES = "Where boxes may ride"
LOAD_DROP = "Drag boxes onto a place, or tick the places to compare."
FLOORS = {"mesh": "mesh", "solid": "solid"}
ROOFS = {"solid": "solid", "screen": "full screen", "shaded_screen": "screen, shaded"}
ENTRANCES = {"shut": "shut", "mesh": "mesh", "foam": "foam", "open": "open"}
STANDS = {"battens": "on battens", "flat": "flat"}
COLOURS = {"dark": "window.colour_dark", "white": "window.colour_white"}
COMBS = {"new": "new, soft", "old": "old brood comb"}
GROUP_CARD = "{count} × {label}"
VALUE_ML = "{value} ml"
BOX_PART = "{part}: {kind}"
BOX_PART_BLOCKED = "{part}: {kind}, {share} % blocked"
BOX_KEY_BEES = "bees"
BOX_KEY_BROOD = "brood"
BOX_KEY_STORES = "stores"
BOX_NAME = "{box}: {bees} frames of bees, {brood} of brood, {stores} of stores, {floor} floor, {roof} roof"

# -- pages beside the plan -----------------------------------------------------------------------

BOOK_NAME = "Pages"
GOING_AGAIN = "Go on"
FILTER_LOG = "Tables (*.csv *.txt);;All files (*)"
SUFFIX_MIN = " min"

SURE_ENSEMBLE = "Ensemble"
SURE_ENSEMBLE_HINT = "Take the weather from the members of the ensemble forecast."
SURE_FIVE = "Five ways to come to harm"
SURE_FIVE_GUIDE = "How often brood, queen, workers, comb or a chill decide, for the option you look at."
SURE_DUELS = "Against the others, in the same variants"
SURE_DUELS_GUIDE = "What beats what, and what would settle an open question, is told here."
SURE_SETTLE = "What would settle it"
SURE_METHOD = "How it was found"
SURE_SENSITIVITY = "Where the uncertainty comes from"
SURE_SENSITIVITY_GUIDE = "Which unknown matters most for the option you look at."
SURE_NO_SENSITIVITY = "Nothing that is unknown changes the headroom here."
VERDICT_NAMES = {
    "brood": "brood",
    "queen": "queen",
    "workers": "workers",
    "comb": "comb",
    "chill": "chill",
}

HELPS_LIST = "What helps most"
HELPS_LIST_GUIDE = (
    "Every single change, tried in the same variants and ranked by what it gains, appears here."
)
HELPS_CHANGE = "change"
HELPS_GAIN = "headroom gained"
HELPS_NO_HARM = "no harm, of 100"
HELPS_EFFORT = "effort"
HELPS_EFFORT_OF = "effort {effort} of {most}"
HELPS_FROM_TO = "{before} → {after}"
HELPS_APPLY = "Apply"
HELPS_APPLY_NAME = "Apply: {change}"
HELPS_BY_HAND = "This takes a different road. Change the stops on the left to use it."
HELPS_NOTHING = "Nothing tried here makes it better."
HELPS_SET = "Enough to make it safe"
HELPS_SET_GUIDE = "The smallest set of changes that makes the trip safe appears here."
HELPS_APPLY_SET = "Apply all of these"
HELPS_WORSE = "What would make it worse"
HELPS_WATER = "Water"
HELPS_WATER_GUIDE = "How much water, when, and when not to."
HELPS_WATER_BOXES = "Boxes"
HELPS_MIND = "Mind"
HELPS_APPLY_WATER = "Mist like this"

STAND_RESERVE = "If it stops here now"
STAND_RESERVE_GUIDE = "How long the vehicle may stand at every moment of the trip appears here."
STAND_WHERE = "Where"
STAND_WHERE_GUIDE = "The road, coloured by how long the vehicle may stand."
STAND_PEAKS = "Peak without and with the delay"
STAND_WITHOUT = "without"
STAND_WITH = "held up"
STAND_WORST = "worst spot"
STAND_TIPPING = "Tipping point"
STAND_TIPPING_GUIDE = "Heat made against heat carried off, for the moment under the cursor."
STAND_AT = "{group}, {when}"
STAND_NO_BALANCE = "No box is shut at this moment, or the weather is not known."
STAND_DELAY = "Held up"
STAND_DELAY_GUIDE = "A jam, a breakdown, a ferry or a border wait can be put into the trip here."
STAND_KIND = "What happens"
STAND_PLACE = "Where"
STAND_LASTS = "How long"
STAND_PEAK = "The hottest box peaks at {after} ({low} to {high}) instead of {before}."
STAND_HEADROOM = "Headroom: {after} instead of {before}."
STAND_LEVEL = "Verdict: {after} instead of {before}; with agitated bees {agitated}."

SEASON_TITLE = "Chance by week and hour"
SEASON_GUIDE = (
    "Choose hourly weather of one year or more: a typical year (PVGIS or TMY3) or a weather table of Skepway. "
    "Every hour of every day is then driven as a departure of this load; it takes a minute or two."
)
SEASON_CHOOSE = "Weather file…"
SEASON_PLACE = "Loading place of the chart"
SEASON_GO = "Work it out"
SEASON_AGITATED = "Agitated bees"
SEASON_AGITATED_HINT = "Count only days on which no variant is harmed, not even those with agitated bees."
SEASON_OLD = "this chart is for the earlier trip: press “Work it out”"
SEASON_CELL = (
    "Week of {week}, leaving {hour}: harm in {harm} of 100 variants of {days} days; on {robust} of 100 days in none; "
    "the hottest box peaks at {peak} on average."
)
SEASON_CELL_UNKNOWN = "Week of {week}, leaving {hour}: not known."

FIT_FORM = "A logger's log"
FIT_FORM_GUIDE = "Open a trip that was driven with a logger in a box; its log is read here."
FIT_FILE = "Log (CSV)"
FIT_FILE_HINT = "choose a file"
FIT_BROWSE = "Choose…"
FIT_ZONE = "Time zone of its clock"
FIT_ZONE_HINT = "as the file says, or Europe/London"
FIT_AS_FILE = "as the file says"
FIT_UNIT = "Degrees"
FIT_DATES = "Order of its dates"
FIT_DATE_ORDERS = {"day_first": "day before month", "month_first": "month before day"}
FIT_COLUMN = "Temperature column"
FIT_COLUMN_HINT = "the first one"
FIT_LEFT = "Left at"
FIT_CLOSED = "shut at"
FIT_ARRIVED = "arrived at"
FIT_PLACE = "Rode"
FIT_SETUP = "Boxes"
FIT_LOAD = "Logged box"
FIT_SENSOR = "The logger hung"
FIT_SENSORS = {"core": "in the brood nest", "stores": "at the stores comb", "air": "in the air of the box"}
FIT_YARD = "Keep it for a yard"
FIT_YARD_HINT = "else for the box type"
FIT_RUN = "Fit"
FIT_FAULTY = "The log cannot be used yet: see the form."
FIT_CURVES = "Before and after"
FIT_CURVES_GUIDE = "The logged points, with the model before and after the fit, appear here."
FIT_FACTORS = "What the log says"
FIT_FACTORS_GUIDE = "Correction factors for bee heat, air flow and leaks: before and after your log."
FIT_FACTOR = "{name}: {value} times the usual ({low} to {high})"
FIT_WORDS = "What it could not tell"
FIT_WORDS_GUIDE = "What stays open, and how the log was read."
FIT_KEEP = "Keep as profile"
FIT_USE = "Plan with it"
FIT_KEPT = "Kept as {path}"
FIT_USED = "This window now plans with the profile."

# -- cautions ------------------------------------------------------------------------------------

CAUTIONS_TITLE = "Before you drive"
CAUTIONS_LEAD = "Advice with a margin, never permission."
CAUTIONS_OWN = "For this trip"
CAUTIONS_ALWAYS_HEAD = "Always"
SIGNS_TITLE = "Signs on the road"
SIGNS_HEADS = ("you hear or see", "it means", "do")
WHY_TITLE = "Why this answer"
WHY_REASONS = "Reasons"
WHY_NOTES = "Assumed, missing or estimated"
CLOSE = "Close"

# -- faults and notices --------------------------------------------------------------------------

FAULT = "{problem}. {remedy}"
FAULT_NAMED = "{field}: {problem}. {remedy}"
NOTICE_TRY = "Try again"
NOTICE_HIDE = "Hide"

KEYS_TEXT = (
    "<table cellspacing='6'>"
    "<tr><td><b>Ctrl+1 … Ctrl+6</b></td><td>route, load, when and weather, map, board, curves</td></tr>"
    "<tr><td><b>Alt+1 … Alt+9, Alt+0, Alt+-</b></td><td>the pages, in the order of their tabs</td></tr>"
    "<tr><td><b>arrow keys</b></td><td>on the board: choose a departure and a loading place</td></tr>"
    "<tr><td><b>space</b></td><td>on the board: pin this cell as A, then B</td></tr>"
    "<tr><td><b>Enter, Ctrl+D, Del, Alt+up, Alt+down</b></td>"
    "<td>in a table: edit, fill down, remove rows, move rows</td></tr>"
    "<tr><td><b>Ctrl+C, Ctrl+V</b></td><td>in a table: copy and paste, as a spreadsheet does</td></tr>"
    "<tr><td><b>Ctrl+R</b></td><td>read the picture with the keyboard as a table</td></tr>"
    "<tr><td><b>up, down, Page up, Page down</b></td><td>in a date: a quarter of an hour, a day</td></tr>"
    "<tr><td><b>left, right</b></td><td>on the curves: move the time cursor</td></tr>"
    "<tr><td><b>+ , − , arrows, 0</b></td><td>on the map: zoom, move, show the whole road</td></tr>"
    "<tr><td><b>Ctrl+Z, Ctrl+Shift+Z</b></td><td>undo, redo</td></tr>"
    "<tr><td><b>Esc</b></td><td>stop working</td></tr>"
    "</table>"
)
ABOUT_TEXT = (
    "Skepway plans the moving of live bees on a physical heat model. "
    "Land and borders by Natural Earth (public domain); towns by GeoNames (CC BY 4.0)."
)

# -- from the catalogue of words (resources/words/en/window.toml) ---------------------------------

MOMENT_TEXT = "window.moment_text"
MOMENT_FAULT = "window.moment_fault"
CLOCK_FAULT = "window.clock_fault"
CALENDAR_NAME = "window.calendar_name"
YES = "window.yes"
NO = "window.no"
TABLE_CELL = "window.table_cell"
TABLE_FILL = "window.table_fill"
TABLE_REMOVE = "window.table_remove"
TABLE_MOVE = "window.table_move"
TABLE_PASTE = "window.table_paste"
STEP_ROUTE = "window.step_route"
STEP_LOAD = "window.step_load"
STEP_WHEN = "window.step_when"
STEP_OPEN = "window.step_open"
STEP_DONE = "window.step_done"
STEP_ASSUMED = "window.step_assumed"
STEP_WRONG = "window.step_wrong"
STEP_NAME = "window.step_name"
ROUTE_DWELL_HINT = "window.route_dwell_hint"
ROUTE_SHADE_HINT = "window.route_shade_hint"
ROUTE_DOORS_HINT = "window.route_doors_hint"
ROUTE_ENGINE_HINT = "window.route_engine_hint"
ROUTE_STOPS = "window.route_stops"
ROUTE_PASTE = "window.route_paste"
ROUTE_PASTE_HINT = "window.route_paste_hint"
PLACE_UNKNOWN = "window.place_unknown"
BOX_EDITOR = "window.box_editor"
LOAD_GROUPS = "window.load_groups"
LOAD_ON_THE_WAY = "window.load_on_the_way"
LOAD_BOX_TAB = "window.load_box_tab"
LOAD_COUNT_SHORT = "window.load_count_short"
LOAD_BEES_SHORT = "window.load_bees_short"
LOAD_RIDES = "window.load_rides"
LOAD_COLOUR = "window.load_colour"
VEHICLE_DRIVERS = "window.vehicle_drivers"
VEHICLE_DRIVERS_HINT = "window.vehicle_drivers_hint"
DRIVERS = {1: "window.drivers_one", 2: "window.drivers_two"}
OWN_RIGHT = "window.own_right"
OWN_ASSUMED = "window.own_assumed"
OWN_WIND = "window.own_wind"
OWN_BOTH = "window.own_both"
ZONE_COUNT = "window.zone_count"
SUM_ROUTE = "window.sum_route"
SUM_ROUTE_STOPS = "window.sum_route_stops"
SUM_ROUTE_BARE = "window.sum_route_bare"
SUM_ROUTE_NONE = "window.sum_route_none"
SUM_ROUTE_HALF = "window.sum_route_half"
SUM_LOAD_ONE = "window.sum_load_one"
SUM_LOAD = "window.sum_load"
SUM_LOAD_NONE = "window.sum_load_none"
SUM_WHEN = "window.sum_when"
SUM_WHEN_ASSUMED = "window.sum_when_assumed"
SUM_WHEN_NONE = "window.sum_when_none"
WEATHER_OWN_SHORT = "window.weather_own_short"
WEATHER_TABLE_SHORT = "window.weather_table_short"
WEATHER_FORECAST_SHORT = "window.weather_forecast_short"
OFFER_OWN = "window.offer_own"
OFFER_SETTINGS = "window.offer_settings"
DIALOG_SAVE_AS = "window.dialog_save_as"
DIALOG_PDF = "window.dialog_pdf"
DIALOG_OPEN = "window.dialog_open"
DIALOG_ROAD = "window.dialog_road"
DIALOG_EXPORT = "window.dialog_export"
TWICE = "window.twice"
DROPPED_NOT = "window.dropped_not"
FIRST_DISCARD = "window.first_discard"
ANSWER_SO_FAR = "window.answer_so_far"
DECISION_GO = "window.decision_go"
DECISION_GO_IF = "window.decision_go_if"
DECISION_DO_NOT_GO = "window.decision_do_not_go"
DECISION_CANNOT_TELL = "window.decision_cannot_tell"
DECISION_NONE = "window.decision_none"
FIG_HARM = "window.fig_harm"
FIG_SPAN = "window.fig_span"
FIG_HEADROOM = "window.fig_headroom"
FIG_BOXES = "window.fig_boxes"
FIG_UNKNOWN = "window.fig_unknown"
FIG_SAMPLES = "window.fig_samples"
FIG_WEATHER = "window.fig_weather"
CLOCK_BAR = "window.clock_bar"
CLOCK_BAR_PART = "window.clock_bar_part"
CLOCK_GO = "window.clock_go"
CAUTIONS_COUNT = "window.cautions_count"
CLASS_SAFE = "window.class_safe"
CLASS_DOUBTFUL = "window.class_doubtful"
CLASS_RISKY = "window.class_risky"
CLASS_BAD = "window.class_bad"
CLASS_DEADLY = "window.class_deadly"
CLASS_KEY = "window.class_key"
CLASS_KEY_OVER = "window.class_key_over"
CLASS_SPAN = "window.class_span"
CLASS_SPAN_OVER = "window.class_span_over"
BOARD_HARM = "window.board_harm"
BOARD_HEADROOM = "window.board_headroom"
CURVES_COMING = "window.curves_coming"
BOARD_TOLERANCE = "window.board_tolerance"
BOARD_ALIKE = "window.board_alike"
BOARD_AGITATED = "window.board_agitated"
BOARD_HARM_CELL = "window.board_harm_cell"
BOARD_HEADROOM_CELL = "window.board_headroom_cell"
BOARD_MISSES = "window.board_misses"
BOARD_ROOM = "window.board_room"
MISS_ARRIVAL = "window.miss_arrival"
MISS_LIGHT = "window.miss_light"
MISS_GATE = "window.miss_gate"
MISS_BREAK = "window.miss_break"
CHIP_SHOWN = "window.chip_shown"
CHIP_BEST = "window.chip_best"
CHIP_BACK = "window.chip_back"
CHIP_BACK_SHORT = "window.chip_back_short"
CHIP_PIN_A = "window.chip_pin_a"
CHIP_PIN_B = "window.chip_pin_b"
CHIP_PINNED = "window.chip_pinned"
CHIP_UNPIN = "window.chip_unpin"
CHIP_NONE = "window.chip_none"
HEAD_CURVES = "window.head_curves"
SHORTENED = "window.shortened"
CURVE_CORE_OF = "window.curve_core_of"
CURVE_CORE_SHOWN = "window.curve_core_shown"
VERDICT = "window.verdict"
CURVES_BAND_BEES = "window.curves_band_bees"
CURVES_BAND_VARIANTS = "window.curves_band_variants"
FLAG_TIME = "window.flag_time"
FLAG_CORE = "window.flag_core"
FLAG_OTHER = "window.flag_other"
FLAG_STORES = "window.flag_stores"
CURVES_AGITATED = "window.curves_agitated"
ALONG_ROAD = "window.along_road"
PLAY = "window.play"
PAUSE = "window.pause"
READ_TITLE = "window.read_title"
ACT_READ = "window.act_read"
ACT_SETTINGS = "window.act_settings"
SETTINGS_TITLE = "window.settings_title"
SETTINGS_LOOK = "window.settings_look"
SETTINGS_SERVICES = "window.settings_services"
SETTINGS_HOME = "window.settings_home"
SETTINGS_UNITS = "window.settings_units"
SETTINGS_THEME = "window.settings_theme"
SETTINGS_TYPE = "window.settings_type"
SETTINGS_LANGUAGE = "window.settings_language"
SETTINGS_CONTACT = "window.settings_contact"
SETTINGS_FORECAST = "window.settings_forecast"
SETTINGS_FORECAST_KEY = "window.settings_forecast_key"
SETTINGS_ROADS = "window.settings_roads"
ROADS_OSRM = "window.roads_osrm"
ROADS_VALHALLA = "window.roads_valhalla"
ROADS_ORS = "window.roads_ors"
ROADS_ENGINE = "window.roads_engine"
ROADS_ESTIMATE = "window.roads_estimate"
SETTINGS_ROADS_KEY = "window.settings_roads_key"
SETTINGS_PLACES = "window.settings_places"
SETTINGS_PLACES_URL = "window.settings_places_url"
SETTINGS_OFF = "window.settings_off"
SETTINGS_HARM = "window.settings_harm"
SETTINGS_BOXES = "window.settings_boxes"
SETTINGS_YARD = "window.settings_yard"
SETTINGS_OWN_VEHICLES = "window.settings_own_vehicles"
VEHICLE_ADD = "window.vehicle_add"
VEHICLE_REMOVE = "window.vehicle_remove"
VEHICLE_TITLE = "window.vehicle_title"
VEHICLE_LIKE = "window.vehicle_like"
VEHICLE_COLOUR = "window.vehicle_colour"
VEHICLE_EITHER = "window.vehicle_either"
VEHICLE_DARK = "window.vehicle_dark"
VEHICLE_WHITE = "window.vehicle_white"
VEHICLE_PLACES = "window.vehicle_places"
VEHICLE_BY_SIZE = "window.vehicle_by_size"
VEHICLE_MOST = "window.vehicle_most"
VEHICLE_NEW = "window.vehicle_new"
VEHICLES_SAVED = "window.vehicles_saved"
SETTINGS_VEHICLES = "window.settings_vehicles"
SETTINGS_VEHICLES_HINT = "window.settings_vehicles_hint"
SETTINGS_OPEN_FOLDER = "window.settings_open_folder"
SETTINGS_RETENTION = "window.settings_retention"
SETTINGS_KEYRING = "window.settings_keyring"
SETTINGS_NO_KEYRING = "window.settings_no_keyring"
SETTINGS_SAVED = "window.settings_saved"
SUFFIX_DAYS = "window.suffix_days"
ROW_MIXED = "window.row_mixed"
ROW_MIXED_SETUP = "window.row_mixed_setup"
ROW_TITLE = "window.row_title"
CANDIDATE = "window.candidate"
FLAG_OUTSIDE = "window.flag_outside"
READ_TIME = "window.read_time"
READ_KM = "window.read_km"
READ_CORE = "window.read_core"
READ_AGITATED = "window.read_agitated"
READ_STORES = "window.read_stores"
READ_OUTSIDE = "window.read_outside"
PAGE_PLAN = "window.page_plan"
PAGE_PLAN_HINT = "window.page_plan_hint"
PAGE_SURE = "window.page_sure"
PAGE_SURE_HINT = "window.page_sure_hint"
PAGE_HELPS = "window.page_helps"
PAGE_HELPS_HINT = "window.page_helps_hint"
PAGE_STAND = "window.page_stand"
PAGE_STAND_HINT = "window.page_stand_hint"
PAGE_SEASON = "window.page_season"
SEASON_READY = "window.season_ready"
PAGE_SEASON_HINT = "window.page_season_hint"
PAGE_FIT = "window.page_fit"
PAGE_FIT_HINT = "window.page_fit_hint"
PRINTED = "window.printed"
LOAD_HARM = "window.load_harm"
PAGE_PAPERS = "window.page_papers"
PAGE_PAPERS_HINT = "window.page_papers_hint"
PAGE_DAY = "window.page_day"
PAGE_DAY_HINT = "window.page_day_hint"
PAGE_PARCEL = "window.page_parcel"
PAGE_PARCEL_HINT = "window.page_parcel_hint"
PAGE_CHECKS = "window.page_checks"
PAGE_CHECKS_HINT = "window.page_checks_hint"
PAGE_LOGBOOK = "window.page_logbook"
PAGE_LOGBOOK_HINT = "window.page_logbook_hint"
SURE_SENTENCE = "window.sure_sentence"
SURE_OTHER = "window.sure_other"
SURE_BEST = "window.sure_best"
SURE_GROUP = "window.sure_group"
SURE_ANY = "window.sure_any"
SURE_NONE = "window.sure_none"
SURE_FATE = "window.sure_fate"
