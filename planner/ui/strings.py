"""Every word the window shows, in one place: whole sentences with named gaps, never joined from pieces.

:func:`say` hands each text to Qt's translation first, so a translator file in the context ``Skepway``
changes the whole window; gaps are filled afterwards.
"""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication


def say(text: str, **gaps: object) -> str:
    """``text`` in the user's language with its named gaps filled."""
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
STALE_FAULTY = "from before the faults on the left"
STALE_STOPPED = "from before it was stopped"
NOTICE_SHOW = "Show"
NEW_TITLE = "New trip"
ENTRY_STRAIGHT = "{start} to {end}, {boxes} boxes"
ENTRY_ONE_STOP = "{start} to {end}, {boxes} boxes, one stop"
ENTRY_STOPS = "{start} to {end}, {boxes} boxes, {stops} stops"
PLACE_KEPT = "{name} is remembered"
UNTITLED = "Untitled trip"

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
ACT_PDF = "Save the view as P&DF…"
ACT_START = "Start &page"
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
ACT_BIGGER = "&Larger type"
ACT_SMALLER = "&Smaller type"
ACT_FIT = "Show the whole &road"
ACT_TILES = "Street &tiles…"
ACT_CAUTIONS = "&Cautions"
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
FIRST_OPEN_DEMO = "Open"
FIRST_RECOVER = "Take it up again"
FIRST_LEFT = "“{title}” was open and not saved when Skepway last stopped."
FIRST_ADVICE = "Advice with a margin, never permission."

# -- answer bar ----------------------------------------------------------------------------------

ANSWER_NAME = "Answer"
ANSWER_EMPTY = "Tell the trip on the left and the answer appears here."
UNSAID = {
    "origin": "Where does the trip start? Type a town or coordinates on the left, or point at the map.",
    "destination": "And where does it end?",
    "load": "What rides? Add the boxes on the page “Load”.",
}
ANSWER_WORKING = "Working it out…"
ANSWER_FAULTS_ONE = "One thing on the left needs mending before there is an answer."
ANSWER_FAULTS = "{count} things on the left need mending before there is an answer."
ANSWER_STOPPED_EMPTY = "Stopped. Change anything, or press F5, to start again."
ANSWER_NO_SUPPLY = "There is no answer yet: see the line below."
ANSWER_WEATHER_AGE = "{source}, {age} old"
ANSWER_STOPPED = "Stopped. The pictures below belong to an earlier question."
ANSWER_CAUTIONS = "Cautions"
ANSWER_WHY = "Why"
ANSWER_STOP = "Stop"
ANSWER_NEXT = "Next best"
ANSWER_SURE = "How sure"
ANSWER_AVOID = "Avoid"
ANSWER_WEATHER = "Weather"
ANSWER_PROGRESS = "{share} % of all departures worked out"

# -- route ---------------------------------------------------------------------------------------

TAB_ROUTE = "Route"
TAB_LOAD = "Load"
ROUTE_TITLE_FIELD = "Name of the trip"
ROUTE_FROM = "From"
ROUTE_TO = "To"
ROUTE_STOPS = "Stops"
ROUTE_ADD_STOP = "Add a stop"
ROUTE_NO_STOPS = "No stops: the vehicle drives straight through."
ROUTE_PLACE_HINT = "Town, or 52.08, -1.02"
ROUTE_SAVE_PLACE = "Remember this place"
ROUTE_FROM_MAP = "Take it from the map"
ROUTE_FROM_MAP_HINT = "Click the map to set this place."
ROUTE_UP = "Move this stop up"
ROUTE_DOWN = "Move this stop down"
ROUTE_REMOVE = "Remove this stop"
ROUTE_PURPOSE = "Purpose"
ROUTE_DWELL = "Minutes"
ROUTE_SHADE = "in shade"
ROUTE_DOORS = "doors open"
ROUTE_ENGINE = "engine on"
PURPOSES = {
    "load": "load boxes",
    "unload": "unload boxes",
    "rest": "rest",
    "fuel": "fuel",
    "break": "legal break",
}
ROUTE_WHEN = "When"
ROUTE_FIRST = "Earliest departure"
ROUTE_LAST = "Latest departure"
ROUTE_STEP = "Every"
ROUTE_CLOSING = "Boxes shut"
CLOSINGS = {
    "after_sunset": "after sunset",
    "before_sunrise": "before sunrise",
    "clock": "at a clock time",
    "at_loading": "at loading",
}
ROUTE_DELAY = "Delay"
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
    "open_meteo": "forecast, Open-Meteo",
    "met_norway": "forecast, MET Norway",
    "nws": "forecast, US weather service",
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
ROUTE_ROAD = "Road"
ROUTE_ROAD_NONE = "No road yet: set both ends."
ROUTE_ROAD_TEXT = "{length}, {time} at the wheel. {source}"
ROUTE_IMPORT = "Drop a GPX or GeoJSON track here to use your own road."
PLACE_NEAR = "near {town}"
PLACE_POINT = "{name} ({point})"
STOP_PLACE = "Place of this stop"
PER_CENT = "{value} %"

# -- map -----------------------------------------------------------------------------------------

MAP_TITLE = "Road"
MAP_GUIDE = "The road appears here once both ends are set. Type the places on the left, or click the map."
MAP_QUANTITY = "Colour the road by"
MAP_QUANTITIES = {
    "outside": "air temperature",
    "core": "inside the box",
    "sun": "sun on the load",
    "wind": "wind",
}
MAP_FIT = "Whole road"
MAP_ATTRIBUTION = "Land and borders: Natural Earth. Towns: GeoNames, CC BY 4.0. {extra}"
MAP_SCALE = "{low} to {high}"
MAP_MAP_NAME = "Colours: {name}"

# -- board ---------------------------------------------------------------------------------------

BOARD_TITLE = "Departures"
BOARD_GUIDE = (
    "Each departure and loading place gets a cell here, coloured by its hottest box, once the trip is whole."
)
BOARD_BY_PEAK = "Hottest box"
BOARD_BY_VERDICT = "Worst verdict"
BOARD_SETUP = "Box set-up"
BOARD_CELL = "{when} · {place} · {setup}"
BOARD_CELL_PEAK = "hottest box {peak} ({calm} to {disturbed}), {level}"
BOARD_CELL_UNKNOWN = "not known: the weather is missing for part of this trip"
BOARD_HINT = "Arrow keys choose · shift-click or space compares up to four"
BOARD_BY_DAY = "bees flying when shut"
BOARD_CLOSED_NOTE = "shut {hour}"
LEVELS = ("clear", "caution", "harm", "not known")
LEGEND_CAUTION = "caution"
LEGEND_HARM = "harm"
LEGEND_UNKNOWN = "not known"
LEGEND_BEST = "best three"

# -- curves --------------------------------------------------------------------------------------

CURVES_TITLE = "Inside the hottest box"
CURVES_TITLE_GROUP = "Inside: {group}"
CURVES_PLAIN = "Temperatures"
CURVES_HOTTEST = "the hottest boxes"
CURVES_GUIDE = "Choose a cell of the board to see how warm its boxes run, from closing to opening."
CURVES_CORE = "brood core"
CURVES_STORES = "stores comb"
CURVES_OUTSIDE = "outside air"
CURVES_BAND = "calm to disturbed bees"
CURVES_GROUP = "Boxes"
CURVES_EXPORT = "Export"
CURVES_EXPORT_PNG = "Picture (PNG)…"
CURVES_EXPORT_SVG = "Drawing (SVG)…"
CURVES_EXPORT_CSV = "Table (CSV)…"
CURVES_RESET = "Whole trip"
LIMIT_BROOD_CAUTION = "brood caution {temp}"
LIMIT_BROOD_DANGER = "brood and queen danger {temp}"
LIMIT_WORKERS = "workers danger {temp}"
LIMIT_COMB = "new comb danger {temp}"
LIMIT_CHILL = "brood chills below {temp}"
PHASES = {
    "waiting": "shut, waiting",
    "loading": "loading",
    "driving": "driving",
    "stop": "stop",
    "settling": "settling",
}

# -- road strip ----------------------------------------------------------------------------------

STRIP_TITLE = "Along the road"
STRIP_GUIDE = "Air, sun, wind, speed and height along the trip appear here with the curves."
STRIP_AIR = "air"
STRIP_DEW = "dew point"
STRIP_SUN = "sun"
STRIP_WIND = "wind"
STRIP_SPEED = "speed"
STRIP_HEIGHT = "height"
STRIP_SUN_VALUE = "{value} W/m²"
STRIP_HEIGHT_VALUE = "{value} m"

# -- ledger --------------------------------------------------------------------------------------

LEDGER_TITLE = "Heat balance"
LEDGER_AT = "at {when}"
LEDGER_GUIDE = "Heat made against heat carried off, at the moment under the cursor."
LEDGER_IN = "heat in"
LEDGER_OUT = "heat out"
LEDGER_TERMS = {
    "adults": "bees",
    "brood": "brood",
    "sun": "sun",
    "air": "air through the openings",
    "walls": "walls",
    "water": "water evaporated",
    "stored": "combs",
}
LEDGER_TERMS_SHORT = {
    "adults": "bees",
    "brood": "brood",
    "sun": "sun",
    "air": "air",
    "walls": "walls",
    "water": "water",
    "stored": "combs",
}
LEDGER_WARMING = "{watts} W stay behind: the combs are warming."
LEDGER_COOLING = "{watts} W more leave than come in: the combs are cooling."
LEDGER_EVEN = "In balance: what comes in goes out."

# -- load ----------------------------------------------------------------------------------------

LOAD_GROUPS = "Boxes that are alike"
LOAD_ADD = "Add boxes"
LOAD_COPY = "Copy"
LOAD_REMOVE = "Remove"
LOAD_NONE = "Nothing is loaded yet. Add the boxes that will ride."
LOAD_LABEL = "Called"
LOAD_COUNT = "How many"
LOAD_TYPE = "Box"
LOAD_BEES = "Frames of bees"
LOAD_BEES_KG = "Bees by weight"
LOAD_OPEN_BROOD = "Open brood frames"
LOAD_SEALED_BROOD = "Sealed brood frames"
LOAD_STORES = "Stores frames"
LOAD_THIN = "of it thin syrup"
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
LOAD_PLACE = "Rides"
LOAD_ANYWHERE = "wherever is best"
LOAD_BOARDS = "Loaded at"
LOAD_LEAVES = "Unloaded at"
LOAD_END = "the end"
LOAD_PLACES = "Where boxes may ride"
LOAD_DROP = "Drag boxes onto a place, or tick the places to compare."
FLOORS = {"mesh": "mesh", "solid": "solid"}
ROOFS = {"solid": "solid", "screen": "full screen", "shaded_screen": "screen, shaded"}
ENTRANCES = {"shut": "shut", "mesh": "mesh", "foam": "foam", "open": "open"}
COMBS = {"new": "new, soft", "old": "old brood comb"}
GROUP_CARD = "{count} × {label}"
GROUP_CARD_FRAMES = "{bees} frames of bees"
GROUP_CARD_KG = "{kg} of bees"
VALUE_ML = "{value} ml"
VALUE_MIN = "{value} min"
BOX_PART = "{part}: {kind}"
BOX_PART_BLOCKED = "{part}: {kind}, {share} % blocked"
BOX_KEY_BEES = "bees"
BOX_KEY_BROOD = "brood"
BOX_KEY_STORES = "stores"
BOX_NAME = "{box}: {bees} frames of bees, {brood} of brood, {stores} of stores, {floor} floor, {roof} roof"

VEHICLES = {
    "car": "car",
    "estate": "estate car",
    "van": "van",
    "pickup": "pickup",
    "trailer": "open trailer",
    "flatbed": "flatbed lorry",
    "ground": "on the ground",
}
ZONE_FRONT = "front"
ZONE_BACK = "back"
ZONE_BOOT = "boot"
ZONE_LOAD = "load space"
ZONE_BED = "bed"
ZONE_FRONT_ROW = "front"
ZONE_OUTER = "outer rows"
ZONE_INNER = "inner rows"
ZONE_REAR = "rear"
ZONE_TRAILER = "trailer"
ZONE_GROUND = "on the ground"

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
    "<tr><td><b>Ctrl+1 … Ctrl+5</b></td><td>route, load, map, board, curves</td></tr>"
    "<tr><td><b>arrow keys</b></td><td>on the board: choose a departure and a loading place</td></tr>"
    "<tr><td><b>space</b></td><td>on the board: compare this cell, up to four</td></tr>"
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
