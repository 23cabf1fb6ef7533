"""What the window itself says, in one place: whole sentences with named gaps, never joined from pieces.

:func:`say` hands each text to Qt's translation (context ``Skepway``) before its gaps are filled, so a translation
of these constants changes titles, buttons, hints and guides. Two things it does not do: ``lupdate`` finds no text
here, as none stands in the call itself, so a translator's file has to be made from the constants; and the answers,
reasons, verdicts and cautions come from ``app`` and stay English.
"""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from planner.services.forecast.registry import SERVICES as FORECASTS


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
STALE_FAULTY = "out of date: correct the marked fields on the left"
STALE_STOPPED = "out of date: stopped"
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
    "load": "What rides? Add the boxes on the page “Load”.",
}
ANSWER_WORKING = "Working it out…"
ANSWER_FAULTS_ONE = "One thing on the left needs mending before there is an answer."
ANSWER_FAULTS = "{count} things on the left need mending before there is an answer."
ANSWER_STOPPED_EMPTY = "Stopped. Change anything, or press F5, to start again."
ANSWER_NO_DATA = "There is no answer yet: see the line below."
ANSWER_WEATHER_AGE = "{source}, {age} old"
ANSWER_CAUTIONS = "Cautions"
ANSWER_WHY = "Why"
ANSWER_STOP = "Stop"
ANSWER_NEXT = "Next best"
ANSWER_NEXT_LINE = "Next best: {option}"
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
    "Each departure and place has a cell here, coloured by its hottest box, once the trip is complete."
)
BOARD_BY_VERDICT = "Worst verdict"
BOARD_SETUP = "Box set-up"
BOARD_CELL = "{when} · {place} · {setup}"
BOARD_CELL_PEAK = "hottest box {peak} ({calm} to {agitated}), {level}"
BOARD_CELL_UNKNOWN = "not known: the weather is missing for part of this trip"
BOARD_HINT = "Arrow keys choose · shift-click or space compares up to four"
LEVELS = ("clear", "caution", "harm", "not known")
LEGEND_HARM = "harm"

# -- curves --------------------------------------------------------------------------------------

CURVES_TITLE = "Inside the hottest box"
CURVES_TITLE_GROUP = "Inside: {group}"
CURVES_PLAIN = "Temperatures"
CURVES_HOTTEST = "the hottest boxes"
CURVES_GUIDE = "Choose a cell of the board to see how warm its boxes run, from closing to opening."
CURVES_BAND = "shaded: calm to agitated bees"
CURVES_GROUP = "Boxes"
CURVES_EXPORT = "Export"
CURVES_EXPORT_PNG = "Picture (PNG)…"
CURVES_EXPORT_SVG = "Drawing (SVG)…"
CURVES_EXPORT_CSV = "Table (CSV)…"
CURVES_RESET = "Whole trip"

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
LEDGER_GUIDE = "Heat made against heat lost, at the moment under the cursor."
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
COMBS = {"new": "new, soft", "old": "old brood comb"}
GROUP_CARD = "{count} × {label}"
GROUP_CARD_FRAMES = "{bees} frames of bees"
GROUP_CARD_KG = "{kg} of bees"
VALUE_ML = "{value} ml"
BOX_PART = "{part}: {kind}"
BOX_PART_BLOCKED = "{part}: {kind}, {share} % blocked"
BOX_KEY_BEES = "bees"
BOX_KEY_BROOD = "brood"
BOX_KEY_STORES = "stores"
BOX_NAME = "{box}: {bees} frames of bees, {brood} of brood, {stores} of stores, {floor} floor, {roof} roof"

# -- pages beside the plan -----------------------------------------------------------------------

BOOK_NAME = "Pages"
BOOK_PAGES = (
    ("Plan", "Road, departures, curves (Alt+1)"),
    ("How sure", "In how many of 100 variants of the trip nothing is harmed (Alt+2)"),
    ("What helps", "What each change gains, and how much water (Alt+3)"),
    ("Standing still", "How long you may stand, delays, tipping point (Alt+4)"),
    ("Season", "Safe days by week and hour (Alt+5)"),
    ("My box", "Fit the model to a logger of your own (Alt+6)"),
    ("Checks", "Look at every box before the start (Alt+7)"),
    ("Logbook", "What happened to trips and boxes (Alt+8)"),
    ("Day", "Plan a collection day: who comes when, for which box (Alt+7)"),
    ("Parcel", "May bees go by parcel this week, on which day, how packed (Alt+8)"),
)
GOING_AGAIN = "Go on"
FILTER_LOG = "Tables (*.csv *.txt);;All files (*)"
SUFFIX_MIN = " min"

SURE_RANK = "Without harm"
SURE_RANK_GUIDE = "Options appear here, each tried in the same simulated variants, once the trip is complete."
SURE_SAMPLES = "{samples} of {wanted} variants"
SURE_ENSEMBLE = "Ensemble"
SURE_ENSEMBLE_HINT = "Take the weather from the members of the ensemble forecast."
SURE_NO_HARM = "no harm, of 100"
SURE_PEAK = "peak, 90 of 100"
SURE_ROW = "{candidate}: no harm in {share} of 100 variants"
SURE_FIVE = "Five ways to come to harm"
SURE_FIVE_GUIDE = "How often brood, queen, workers, comb or a chill decide, for the option you look at."
SURE_FIVE_ROW = "{what}: harm in {share} of 100"
SURE_HARM_OF = "{share} of 100"
SURE_CAUTION_ONLY = "caution only"
SURE_DUELS = "Against the others, in the same variants"
SURE_DUELS_GUIDE = "What beats what, and what would settle an open question, is told here."
SURE_ALONE = "There is no other option to compare it with."
SURE_SETTLE = "What would settle it"
SURE_CHANCES = "The one you look at"
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
HELPS_NOTHING = "Nothing tried here makes it better; those above make it worse or change nothing."
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
STAND_NOTE = "each strip is {hours} h tall; dashed line and bottom row: agitated bees"
STAND_WHERE_NOTE = "agitated bees"
STAND_PEAKS = "Peak without and with the delay"
STAND_WITHOUT = "without"
STAND_WITH = "held up"
STAND_WORST = "worst spot"
STAND_READING = "{title}: {usual}, {agitated} with agitated bees"
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

SEASON_TITLE = "Safe days by week and hour"
SEASON_GUIDE = (
    "Choose hourly weather of one year or more: a typical year (PVGIS or TMY3) or a weather table of Skepway. "
    "Every hour of every day is then driven as a departure of this load; it takes a minute or two."
)
SEASON_CHOOSE = "Weather file…"
SEASON_PLACE = "Loading place of the chart"
SEASON_GO = "Work it out"
SEASON_AGITATED = "Agitated bees"
SEASON_AGITATED_HINT = "Count only days without harm even when the bees are agitated."
SEASON_OLD = "this chart is for the earlier trip: press “Work it out”"
SEASON_CELL = (
    "Week of {week}, leaving {hour}: no harm on {safe} % of {days} days, on {robust} % even with agitated bees; "
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
FIT_FACTOR = "{name}: {value} times the catalogue's ({low} to {high})"
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
    "<tr><td><b>Ctrl+1 … Ctrl+5</b></td><td>route, load, map, board, curves</td></tr>"
    "<tr><td><b>Alt+1 … Alt+6</b></td><td>plan, how sure, what helps, standing still, season, my box</td></tr>"
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
